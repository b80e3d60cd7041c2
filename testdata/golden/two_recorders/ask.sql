SELECT source, round(shift_s - (SELECT shift_s FROM sources WHERE source = 'dyno.csv'), 1) AS shift_s, rows FROM sources ORDER BY source
