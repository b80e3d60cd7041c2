SELECT source, form, round(shift_s - (SELECT shift_s FROM sources WHERE source = 'book.xlsx#dyno'), 1) AS shift_s, sources.rows,
  (SELECT string_agg(code, ' ' ORDER BY code) FROM findings WHERE code IN ('hidden_sheet', 'sheet_kept_as_note')) AS told, vehicle
FROM sources JOIN runs USING (run_id) ORDER BY source
