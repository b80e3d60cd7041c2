-- title: Two calibrations side by side
-- question: What did the candidate calibration change against the base, for every quantity and engine speed, and is it real or scatter?
-- apart: platform, vehicle
-- param corrected: boolean, false, -, compare power and torque corrected to the reference atmosphere of the runs' standard
-- column vehicle: -, the vehicle
-- column quantity: -, power, torque, boost, net drive, ratio, exhaust or lambda
-- column engine_speed_rpm: rpm, the engine-speed bin's middle (bins of 50); NULL in a row that says why nothing could be compared
-- column base: -, mean over the base's pulls, in the quantity's unit
-- column candidate: -, mean over the candidate's pulls, in the same
-- column delta: -, candidate less base, in the same
-- column lo95: -, lower end of the pointwise 95 % interval of delta (Welch's t on pull means); NULL where a side has one pull
-- column hi95: -, upper end of the same
-- column verdict: -, gain (more of the quantity), loss (less) or no difference shown, after lo95 and hi95
-- column n_base: 1, pulls of the base in the bin
-- column n_candidate: 1, pulls of the candidate in the bin
-- column unit: -, the quantity's unit
-- column delta_all: -, mean over pulls of each pull's mean over the speeds that all pulls cross, candidate less base
-- column verdict_all: -, the verdict of that one number, by Welch's t: of the curve as a whole
-- column basis: -, what the quantity stands on: outlet or system for drive and exhaust, measured or reckoned for lambda
-- column base_calibration: -, the calibration compared against
-- column candidate_calibration: -, the calibration compared
-- column platform: -, the vehicle's platform
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column standard: -, the correction standard
-- column left_out: 1, pulls of both calibrations that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- column flagged: -, pulls used that a rule doubts: run, segment and why
WITH candidate AS (
    SELECT DISTINCT run_id, segment_id, 'any' AS basis
    FROM curves
    WHERE axis = 'engine_speed_rpm'
),
-- include: pair
crossed AS (
    SELECT a.grp, a.side, a.pull_no, c.bin, c.wheel_power_kw, c.power_corr_kw, c.torque_nm, c.torque_corr_nm, c.boost_kpa, c.net_drive_kpa, c.drive_ratio, c.drive_basis,
        c.exhaust_gauge_kpa, c.turbine_out_kpa, c.lambda_ratio, c.lambda_calc_ratio
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'engine_speed_rpm'
),
measured AS (
    SELECT grp, side, pull_no, bin, 1 AS item, 'any' AS basis, CAST(CASE WHEN $corrected THEN power_corr_kw ELSE wheel_power_kw END AS DOUBLE) AS y FROM crossed
    UNION ALL
    SELECT grp, side, pull_no, bin, 2 AS item, 'any' AS basis, CAST(CASE WHEN $corrected THEN torque_corr_nm ELSE torque_nm END AS DOUBLE) AS y FROM crossed
    UNION ALL
    SELECT grp, side, pull_no, bin, 3 AS item, 'any' AS basis, CAST(boost_kpa AS DOUBLE) AS y FROM crossed
    UNION ALL
    SELECT grp, side, pull_no, bin, 4 AS item, drive_basis AS basis, CAST(net_drive_kpa AS DOUBLE) AS y FROM crossed WHERE drive_basis IS NOT NULL
    UNION ALL
    SELECT grp, side, pull_no, bin, 5 AS item, drive_basis AS basis, CAST(drive_ratio AS DOUBLE) AS y FROM crossed WHERE drive_basis IS NOT NULL
    UNION ALL
    SELECT grp, side, pull_no, bin, 6 AS item, CASE WHEN turbine_out_kpa IS NULL THEN 'system' ELSE 'outlet' END AS basis, CAST(exhaust_gauge_kpa AS DOUBLE) AS y FROM crossed
    UNION ALL
    SELECT grp, side, pull_no, bin, 7 AS item, 'measured' AS basis, CAST(lambda_ratio AS DOUBLE) AS y FROM crossed
    UNION ALL
    SELECT grp, side, pull_no, bin, 7 AS item, 'reckoned' AS basis, CAST(lambda_calc_ratio AS DOUBLE) AS y FROM crossed
),
basis_count AS (
    SELECT grp, item, basis, count(DISTINCT CASE WHEN side = 'base' THEN pull_no END) AS bases, count(DISTINCT CASE WHEN side = 'candidate' THEN pull_no END) AS candidates
    FROM measured
    WHERE y IS NOT NULL
    GROUP BY grp, item, basis
),
basis_place AS ( -- The basis that both sides have most of; never two pooled.
    SELECT *, row_number() OVER (PARTITION BY grp, item ORDER BY least(bases, candidates) DESC, bases + candidates DESC, basis) AS place FROM basis_count
),
value AS (
    SELECT m.grp, m.item, m.side, m.pull_no, m.bin, m.y
    FROM measured m
    JOIN basis_place b ON b.grp = m.grp AND b.item = m.item AND b.basis = m.basis AND b.place = 1
    WHERE m.y IS NOT NULL
),
-- include: welch
described AS (
    SELECT 1 AS item, 'power' AS quantity, 'kW' AS unit, 2 AS decimals
    UNION ALL SELECT 2, 'torque', 'N·m', 2
    UNION ALL SELECT 3, 'boost', 'kPa', 2
    UNION ALL SELECT 4, 'net drive', 'kPa', 2
    UNION ALL SELECT 5, 'ratio', '1', 4
    UNION ALL SELECT 6, 'exhaust', 'kPa', 2
    UNION ALL SELECT 7, 'lambda', '1', 4
),
shown AS (
    SELECT d.grp, d.item, d.bin, round(d.base, q.decimals) AS base, round(d.candidate, q.decimals) AS candidate, round(d.delta, q.decimals) AS delta,
        round(d.delta - d.half, q.decimals) AS lo95, round(d.delta + d.half, q.decimals) AS hi95, d.n_base, d.n_candidate, q.quantity, q.unit,
        round(w.delta, q.decimals) AS delta_all, verdict_of(w.delta - w.half, w.delta + w.half) AS verdict_all
    FROM difference d
    JOIN described q ON q.item = d.item
    LEFT JOIN whole w ON w.grp = d.grp AND w.item = d.item
)
SELECT g.vehicle, d.quantity, d.bin AS engine_speed_rpm, d.base, d.candidate, d.delta, d.lo95, d.hi95, verdict_of(d.lo95, d.hi95) AS verdict,
    coalesce(d.n_base, g.base_pulls) AS n_base, coalesce(d.n_candidate, g.candidate_pulls) AS n_candidate, d.unit, d.delta_all, coalesce(d.verdict_all, 'no difference shown') AS verdict_all,
    nullif(b.basis, 'any') AS basis, g.base AS base_calibration, g.candidate AS candidate_calibration, g.platform, g.test, g.gear, g.locked, g.standard,
    g.base_left_out + g.candidate_left_out AS left_out, nullif(rtrim(g.left_out_why, '; '), '') AS left_out_why, nullif(trim(g.not_logged), '') AS not_logged, g.flagged
FROM compared g
LEFT JOIN shown d ON d.grp = g.grp
LEFT JOIN basis_place b ON b.grp = d.grp AND b.item = d.item AND b.place = 1
WHERE d.grp IS NOT NULL OR g.base_pulls = 0 OR g.candidate_pulls = 0
ORDER BY g.platform, g.vehicle, d.item, d.bin
