-- title: Torque and power by engine speed
-- question: What torque and power does each calibration make, and how sure is that from pull to pull?
-- apart: platform, vehicle
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column engine_speed_rpm: rpm, the engine-speed bin's middle (bins of 50)
-- column torque_nm: N·m, median over pulls of the bin's mean wheel torque referred to engine speed
-- column power_kw: kW, median over pulls of the bin's mean wheel power
-- column torque_corr_nm: N·m, torque_nm corrected to the reference atmosphere of the standard; NULL for none
-- column power_corr_kw: kW, power_kw corrected to the reference atmosphere of the standard; NULL for none
-- column sd: N·m, standard deviation of torque over pulls; NULL for one pull
-- column n: 1, pulls in the bin
-- column lo95: N·m, lower end of the 95 % interval (Student's t over pulls) of the mean torque; NULL for one pull
-- column hi95: N·m, upper end of the same
-- column mean_nm: N·m, mean over pulls of the bin's mean torque, in the middle of lo95 and hi95
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column standard: -, the correction standard
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column flagged_n: 1, pulls used that a rule doubts; torque/peak and quality/repeat name them
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- plot: line x=engine_speed_rpm y=torque_nm by=platform,vehicle,calibration band=lo95:hi95;
--   line x=engine_speed_rpm y=power_kw by=platform,vehicle,calibration
WITH candidate AS (
    SELECT DISTINCT run_id, segment_id, 'any' AS basis
    FROM curves
    WHERE axis = 'engine_speed_rpm' AND torque_nm IS NOT NULL
),
-- include: alike
binned AS (
    SELECT a.grp, c.bin, CAST(c.torque_nm AS DOUBLE) AS torque_nm, CAST(c.wheel_power_kw AS DOUBLE) AS power_kw,
        CAST(c.torque_corr_nm AS DOUBLE) AS torque_corr_nm, CAST(c.power_corr_kw AS DOUBLE) AS power_corr_kw
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'engine_speed_rpm'
    WHERE c.torque_nm IS NOT NULL
),
spread AS (
    SELECT grp, bin, quantile_of(torque_nm, 0.5) AS torque_nm, quantile_of(power_kw, 0.5) AS power_kw, quantile_of(torque_corr_nm, 0.5) AS torque_corr_nm,
        quantile_of(power_corr_kw, 0.5) AS power_corr_kw, avg(torque_nm) AS mean_nm, CASE WHEN count(*) > 1 THEN stddev_samp(torque_nm) END AS sd, count(*) AS n
    FROM binned
    GROUP BY grp, bin
),
answer AS (
    SELECT *, t975(n - 1) * sd / sqrt(n) AS half
    FROM spread
)
SELECT g.platform, g.vehicle, g.calibration, b.bin AS engine_speed_rpm, round(b.torque_nm, 1) AS torque_nm, round(b.power_kw, 2) AS power_kw,
    round(b.torque_corr_nm, 1) AS torque_corr_nm, round(b.power_corr_kw, 2) AS power_corr_kw, round(b.sd, 2) AS sd, b.n,
    round(b.mean_nm - b.half, 1) AS lo95, round(b.mean_nm + b.half, 1) AS hi95, round(b.mean_nm, 1) AS mean_nm,
    g.test, g.gear, g.locked, g.standard, g.left_out, g.left_out_why, g.flagged_n, nullif(trim(g.not_logged), '') AS not_logged
FROM answer b
JOIN alike g ON g.grp = b.grp AND g.pull_no = 1
ORDER BY g.platform, g.vehicle, g.calibration, b.bin
