SELECT source, form, sources.rows, vehicle, count(*) OVER (PARTITION BY run_id) AS recorders FROM sources JOIN runs USING (run_id) ORDER BY source
