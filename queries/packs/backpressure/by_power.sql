-- title: Exhaust back pressure by wheel power
-- question: What does the exhaust after the turbine take away as power rises, and how much of the pressure before the turbine is it?
-- apart: platform, vehicle
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column wheel_power_kw: kW, the power bin's middle (bins of 5)
-- column exhaust_gauge_kpa: kPa, median over pulls of the bin's mean gauge pressure after the turbine
-- column dpf_delta_kpa: kPa, median over pulls of the bin's mean pressure loss of the particulate filter
-- column share_of_turbine_in: 1, median over pulls of exhaust_gauge over turbine_in - baro; NULL where the latter is below 5 kPa
-- column n: 1, pulls in the bin
-- column drive_basis: -, where it was measured: outlet (after the turbine) or system (the whole exhaust)
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column flagged_n: 1, pulls used that a rule doubts; torque/peak and quality/repeat name them
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- plot: line x=wheel_power_kw y=exhaust_gauge_kpa by=platform,vehicle,calibration limit=exhaust_gauge_kpa;
--   line x=wheel_power_kw y=dpf_delta_kpa by=platform,vehicle,calibration limit=dpf_delta_kpa
WITH
-- include: on_exhaust
-- include: alike
binned AS (
    SELECT a.grp, c.bin, CAST(c.exhaust_gauge_kpa AS DOUBLE) AS exhaust_gauge_kpa, CAST(c.dpf_delta_kpa AS DOUBLE) AS dpf_delta_kpa,
        CASE WHEN c.gross_drive_kpa >= 5 THEN CAST(c.exhaust_gauge_kpa AS DOUBLE) / CAST(c.gross_drive_kpa AS DOUBLE) END AS share
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'wheel_power_kw'
        AND CASE WHEN c.turbine_out_kpa IS NULL THEN 'system' ELSE 'outlet' END = a.basis
    WHERE c.exhaust_gauge_kpa IS NOT NULL
),
answer AS (
    SELECT grp, bin, quantile_of(exhaust_gauge_kpa, 0.5) AS exhaust_gauge_kpa, quantile_of(dpf_delta_kpa, 0.5) AS dpf_delta_kpa, quantile_of(share, 0.5) AS share, count(*) AS n
    FROM binned
    GROUP BY grp, bin
)
SELECT g.platform, g.vehicle, g.calibration, b.bin AS wheel_power_kw, round(b.exhaust_gauge_kpa, 2) AS exhaust_gauge_kpa, round(b.dpf_delta_kpa, 2) AS dpf_delta_kpa,
    round(b.share, 3) AS share_of_turbine_in, b.n, g.basis AS drive_basis, g.test, g.gear, g.locked, g.left_out, g.left_out_why, g.flagged_n, nullif(trim(g.not_logged), '') AS not_logged
FROM answer b
JOIN alike g ON g.grp = b.grp AND g.pull_no = 1
ORDER BY g.platform, g.vehicle, g.calibration, b.bin
