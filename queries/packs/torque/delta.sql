-- title: Did the change gain torque
-- question: What torque did the candidate calibration gain or lose against the base at each engine speed, and is it real or scatter?
-- apart: platform, vehicle
-- param corrected: boolean, false, -, compare torque corrected to the reference atmosphere of the runs' standard
-- column vehicle: -, the vehicle
-- column base: -, the calibration compared against
-- column candidate: -, the calibration compared
-- column engine_speed_rpm: rpm, the engine-speed bin's middle (bins of 50); NULL in a row that says why nothing could be compared
-- column delta_nm: N·m, mean over the candidate's pulls less mean over the base's
-- column lo95: N·m, lower end of the pointwise 95 % interval of delta (Welch's t on pull means); NULL where a side has one pull
-- column hi95: N·m, upper end of the same
-- column n_base: 1, pulls of the base in the bin
-- column n_candidate: 1, pulls of the candidate in the bin
-- column verdict: -, gain, loss or no difference shown, after lo95 and hi95
-- column base_nm: N·m, mean over the base's pulls
-- column candidate_nm: N·m, mean over the candidate's pulls
-- column delta_all_nm: N·m, mean over pulls of each pull's mean over the speeds that all pulls cross, candidate less base
-- column verdict_all: -, the verdict of that one number, by Welch's t: of the curve as a whole
-- column platform: -, the vehicle's platform
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column standard: -, the correction standard
-- column left_out: 1, pulls of both calibrations that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- column flagged: -, pulls used that a rule doubts: run, segment and why
-- plot: line x=engine_speed_rpm y=delta_nm by=platform,vehicle,candidate band=lo95:hi95 reference=0
WITH candidate AS (
    SELECT DISTINCT run_id, segment_id, 'any' AS basis
    FROM curves
    WHERE axis = 'engine_speed_rpm' AND torque_nm IS NOT NULL
),
-- include: pair
value AS (
    SELECT a.grp, 'torque' AS item, a.side, a.pull_no, c.bin, CAST(CASE WHEN $corrected THEN c.torque_corr_nm ELSE c.torque_nm END AS DOUBLE) AS y
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'engine_speed_rpm'
    WHERE c.torque_nm IS NOT NULL
),
-- include: welch
answer AS (
    SELECT d.*, w.delta AS delta_all, w.half AS half_all
    FROM difference d
    LEFT JOIN whole w ON w.grp = d.grp
)
SELECT g.vehicle, g.base, g.candidate, d.bin AS engine_speed_rpm, round(d.delta, 2) AS delta_nm, round(d.delta - d.half, 2) AS lo95, round(d.delta + d.half, 2) AS hi95,
    coalesce(d.n_base, 0) AS n_base, coalesce(d.n_candidate, 0) AS n_candidate, verdict_of(round(d.delta - d.half, 2), round(d.delta + d.half, 2)) AS verdict,
    round(d.base, 1) AS base_nm, round(d.candidate, 1) AS candidate_nm, round(d.delta_all, 2) AS delta_all_nm, verdict_of(d.delta_all - d.half_all, d.delta_all + d.half_all) AS verdict_all,
    g.platform, g.test, g.gear, g.locked, g.standard, g.base_left_out + g.candidate_left_out AS left_out, nullif(rtrim(g.left_out_why, '; '), '') AS left_out_why,
    nullif(trim(g.not_logged), '') AS not_logged, g.flagged
FROM compared g
LEFT JOIN answer d ON d.grp = g.grp
WHERE d.grp IS NOT NULL OR g.base_pulls = 0 OR g.candidate_pulls = 0
ORDER BY g.platform, g.vehicle, d.bin
