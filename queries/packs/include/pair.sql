-- param base: text, null, -, the calibration compared against (null: each vehicle's one before the candidate)
-- param candidate: text, null, -, the calibration compared (null: each vehicle's latest)
-- param vehicle: text, null, -, only this vehicle
-- param platform: text, null, -, only this platform
-- param since: time, null, -, only runs started at this time or later
-- param until: time, null, -, only runs started before this time
-- Two calibrations of each vehicle, side by side. The query names its candidates before: candidate(run_id, segment_id, basis). Both sides
-- are narrowed together, so that what differs between them is the calibration alone.
within AS (
    SELECT r.*
    FROM runs r
    WHERE r.vehicle IS NOT NULL AND r.calibration IS NOT NULL
        AND ($vehicle IS NULL OR r.vehicle = $vehicle)
        AND ($platform IS NULL OR r.platform = $platform)
        AND ($since IS NULL OR r.started_at >= $since)
        AND ($until IS NULL OR r.started_at < $until)
),
calibrated AS ( -- In the order in which they were first run.
    SELECT r.platform, r.vehicle, r.calibration, row_number() OVER (PARTITION BY r.platform, r.vehicle ORDER BY CASE WHEN min(r.started_at) IS NULL THEN 0 ELSE 1 END, min(r.started_at), r.calibration) AS age
    FROM within r
    JOIN (SELECT DISTINCT run_id FROM candidate) c ON c.run_id = r.run_id
    GROUP BY r.platform, r.vehicle, r.calibration
),
newest AS (
    SELECT platform, vehicle, max(age) AS age
    FROM calibrated
    WHERE CASE WHEN $candidate IS NULL THEN $base IS NULL OR calibration <> $base ELSE calibration = $candidate END
    GROUP BY platform, vehicle
),
older AS (
    SELECT c.platform, c.vehicle, max(c.age) AS age, max(n.age) AS newest_age
    FROM calibrated c
    JOIN newest n ON n.vehicle = c.vehicle AND n.platform IS NOT DISTINCT FROM c.platform
    WHERE CASE WHEN $base IS NULL THEN c.age < n.age ELSE c.calibration = $base END
    GROUP BY c.platform, c.vehicle
),
pair AS (
    SELECT dense_rank() OVER (ORDER BY o.platform, o.vehicle) AS grp, o.platform, o.vehicle, b.calibration AS base, n.calibration AS candidate
    FROM older o
    JOIN calibrated b ON b.vehicle = o.vehicle AND b.platform IS NOT DISTINCT FROM o.platform AND b.age = o.age
    JOIN calibrated n ON n.vehicle = o.vehicle AND n.platform IS NOT DISTINCT FROM o.platform AND n.age = o.newest_age
),
sided AS (
    SELECT grp, 'base' AS side, platform, vehicle, base AS calibration FROM pair
    UNION ALL
    SELECT grp, 'candidate' AS side, platform, vehicle, candidate AS calibration FROM pair
),
pull AS (
    SELECT p.grp, p.side, r.platform, r.duty, r.vehicle, r.calibration, s.run_id, s.segment_id, c.basis,
        coalesce(nullif(r.test, ''), 'other') AS test, coalesce(nullif(r.standard, ''), 'none') AS standard,
        s.gear, s.locked, r.baro_kpa, s.charge_start_c, s.coolant_c, s.flagged
    FROM candidate c
    JOIN segments s ON s.run_id = c.run_id AND s.segment_id = c.segment_id AND s.kind = 'pull'
    JOIN within r ON r.run_id = s.run_id
    JOIN sided p ON p.vehicle = r.vehicle AND p.platform IS NOT DISTINCT FROM r.platform AND p.calibration = r.calibration
),
-- include: narrow
found AS ( -- Of each pair, what was there, what of that was asked for, and what is compared.
    SELECT p.grp, count(DISTINCT CASE WHEN p.side = 'base' THEN p.run_id || '/' || CAST(p.segment_id AS VARCHAR) END) AS base_found,
        count(DISTINCT CASE WHEN p.side = 'candidate' THEN p.run_id || '/' || CAST(p.segment_id AS VARCHAR) END) AS candidate_found
    FROM pull p
    GROUP BY p.grp
),
wanted AS (
    SELECT grp FROM asked GROUP BY grp HAVING count(DISTINCT side) = 2
),
used AS (
    SELECT grp, max(CASE WHEN side = 'base' THEN pulls ELSE 0 END) AS base_pulls, max(CASE WHEN side = 'candidate' THEN pulls ELSE 0 END) AS candidate_pulls,
        max(CASE WHEN side = 'base' THEN left_out_why END) AS base_why, max(CASE WHEN side = 'candidate' THEN left_out_why END) AS candidate_why,
        max(not_logged) AS not_logged, max(test) AS test, max(gear) AS gear, max(CASE WHEN locked THEN 1 WHEN NOT locked THEN 0 END) AS locked, max(standard) AS standard
    FROM alike
    WHERE pull_no = 1
    GROUP BY grp
),
compared AS (
    SELECT p.grp, p.platform, p.vehicle, p.base, p.candidate, coalesce(u.base_pulls, 0) AS base_pulls, coalesce(u.candidate_pulls, 0) AS candidate_pulls,
        f.base_found - coalesce(u.base_pulls, 0) AS base_left_out, f.candidate_found - coalesce(u.candidate_pulls, 0) AS candidate_left_out,
        nullif(concat(CASE WHEN u.base_why IS NULL THEN '' ELSE concat('base: ', u.base_why, '; ') END, CASE WHEN u.candidate_why IS NULL THEN '' ELSE concat('candidate: ', u.candidate_why, '; ') END,
            CASE WHEN coalesce(u.base_pulls, 0) = 0 THEN 'no pull of base is alike; ' ELSE '' END, CASE WHEN coalesce(u.candidate_pulls, 0) = 0 THEN 'no pull of candidate is alike; ' ELSE '' END), '') AS left_out_why,
        u.not_logged, u.test, u.gear, CASE u.locked WHEN 1 THEN true WHEN 0 THEN false END AS locked, u.standard, g.flagged
    FROM pair p
    JOIN found f ON f.grp = p.grp
    JOIN wanted w ON w.grp = p.grp
    LEFT JOIN used u ON u.grp = p.grp
    LEFT JOIN flagged g ON g.grp = p.grp
),
