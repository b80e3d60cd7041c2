-- title: Drive pressure against boost by wheel power
-- question: How hard does each turbo work as power rises: what drive pressure does it take for the boost it gives?
-- apart: platform, vehicle
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column wheel_power_kw: kW, the power bin's middle (bins of 5)
-- column boost_kpa: kPa, median over pulls of the bin's mean boost
-- column net_drive_kpa: kPa, median over pulls of the bin's mean net drive pressure
-- column drive_ratio: 1, median over pulls of the bin's mean of net drive over boost; NULL where boost is too small to divide by
-- column n: 1, pulls in the bin
-- column drive_basis: -, what net drive stands on: outlet or system
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column flagged_n: 1, pulls used that a rule doubts; torque/peak and quality/repeat name them
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- plot: line x=wheel_power_kw y=drive_ratio by=platform,vehicle,calibration limit=drive_ratio reference=1.0,1.2,1.5,2.0;
--   line x=boost_kpa y=net_drive_kpa by=platform,vehicle,calibration reference=1:1
WITH
-- include: on_basis
-- include: alike
binned AS (
    SELECT a.grp, c.bin, CAST(c.boost_kpa AS DOUBLE) AS boost_kpa, CAST(c.net_drive_kpa AS DOUBLE) AS net_drive_kpa, CAST(c.drive_ratio AS DOUBLE) AS drive_ratio
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'wheel_power_kw' AND c.drive_basis = a.basis
    WHERE c.net_drive_kpa IS NOT NULL
),
answer AS (
    SELECT grp, bin, quantile_of(boost_kpa, 0.5) AS boost_kpa, quantile_of(net_drive_kpa, 0.5) AS net_drive_kpa, quantile_of(drive_ratio, 0.5) AS drive_ratio, count(*) AS n
    FROM binned
    GROUP BY grp, bin
)
SELECT g.platform, g.vehicle, g.calibration, b.bin AS wheel_power_kw, round(b.boost_kpa, 2) AS boost_kpa, round(b.net_drive_kpa, 2) AS net_drive_kpa,
    round(b.drive_ratio, 3) AS drive_ratio, b.n, g.basis AS drive_basis, g.test, g.gear, g.locked, g.left_out, g.left_out_why, g.flagged_n, nullif(trim(g.not_logged), '') AS not_logged
FROM answer b
JOIN alike g ON g.grp = b.grp AND g.pull_no = 1
ORDER BY g.platform, g.vehicle, g.calibration, b.bin
