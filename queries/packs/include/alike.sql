-- param vehicle: text, null, -, only this vehicle
-- param platform: text, null, -, only this platform
-- param calibration: text, null, -, only this calibration
-- The pulls that may be compared within each vehicle and calibration. The query names its candidates before:
-- candidate(run_id, segment_id, basis).
pull AS (
    SELECT dense_rank() OVER (ORDER BY r.platform, r.vehicle, r.calibration) AS grp, 'all' AS side,
        r.platform, r.duty, r.vehicle, r.calibration, s.run_id, s.segment_id, c.basis,
        coalesce(nullif(r.test, ''), 'other') AS test, coalesce(nullif(r.standard, ''), 'none') AS standard,
        s.gear, s.locked, r.baro_kpa, s.charge_start_c, s.coolant_c, s.flagged
    FROM candidate c
    JOIN segments s ON s.run_id = c.run_id AND s.segment_id = c.segment_id AND s.kind = 'pull'
    JOIN runs r ON r.run_id = s.run_id
    WHERE ($vehicle IS NULL OR r.vehicle = $vehicle)
        AND ($platform IS NULL OR r.platform = $platform)
        AND ($calibration IS NULL OR r.calibration = $calibration)
),
-- include: narrow
