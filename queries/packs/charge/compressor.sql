-- title: Compressor and cooler by pressure ratio
-- question: How efficient is the compressor as its pressure ratio rises, how hot does the charge get and how much of that does the cooler take out?
-- apart: platform, vehicle
-- param width: number, 0.1, 1, width of the bins of pressure ratio
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column compressor_ratio: 1, the pressure-ratio bin's middle
-- column compressor_eff_frac: 1, median over pulls of the bin's mean isentropic efficiency; NULL where its probes are not logged
-- column charge_c: °C, median over pulls of the bin's mean charge temperature after the cooler
-- column cooler_eff_frac: 1, median over pulls of the bin's mean effectiveness of the charge cooler
-- column n: 1, pulls in the bin
-- column compressor_out_c: °C, median over pulls of the bin's mean temperature at the compressor's outlet
-- column corrected_air_kg_s: kg/s, median over pulls of the bin's mean air flow at 298 K and 100 kPa
-- column cooler_drop_kpa: kPa, median over pulls of the bin's mean pressure loss from the compressor to the manifold
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column flagged_n: 1, pulls used that a rule doubts; torque/peak and quality/repeat name them
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- plot: line x=compressor_ratio y=compressor_eff_frac by=platform,vehicle,calibration; line x=compressor_ratio y=charge_c by=platform,vehicle,calibration limit=charge_c
WITH candidate AS (
    SELECT DISTINCT run_id, segment_id, 'any' AS basis
    FROM curves
    WHERE axis = 'wheel_power_kw' AND compressor_ratio IS NOT NULL AND (charge_c IS NOT NULL OR compressor_eff_frac IS NOT NULL)
),
-- include: alike
pulled AS ( -- A pull's mean in a bin of pressure ratio: of its power bins whose mean ratio lies in it.
    SELECT a.grp, a.pull_no, bin_mid(c.compressor_ratio, $width) AS bin, avg(CAST(c.compressor_eff_frac AS DOUBLE)) AS efficiency, avg(CAST(c.charge_c AS DOUBLE)) AS charge,
        avg(CAST(c.cooler_eff_frac AS DOUBLE)) AS cooler, avg(CAST(c.compressor_out_c AS DOUBLE)) AS outlet, avg(CAST(c.corrected_air_kg_s AS DOUBLE)) AS air, avg(CAST(c.cooler_drop_kpa AS DOUBLE)) AS lost
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'wheel_power_kw'
    WHERE c.compressor_ratio IS NOT NULL
    GROUP BY a.grp, a.pull_no, bin_mid(c.compressor_ratio, $width)
),
answer AS (
    SELECT grp, bin, quantile_of(efficiency, 0.5) AS efficiency, quantile_of(charge, 0.5) AS charge, quantile_of(cooler, 0.5) AS cooler, quantile_of(outlet, 0.5) AS outlet,
        quantile_of(air, 0.5) AS air, quantile_of(lost, 0.5) AS lost, count(*) AS n
    FROM pulled
    GROUP BY grp, bin
)
SELECT g.platform, g.vehicle, g.calibration, round(b.bin, 6) AS compressor_ratio, round(b.efficiency, 3) AS compressor_eff_frac, round(b.charge, 1) AS charge_c, round(b.cooler, 3) AS cooler_eff_frac, b.n,
    round(b.outlet, 1) AS compressor_out_c, round(b.air, 4) AS corrected_air_kg_s, round(b.lost, 2) AS cooler_drop_kpa, g.test, g.gear, g.locked, g.left_out, g.left_out_why, g.flagged_n, nullif(trim(g.not_logged), '') AS not_logged
FROM answer b
JOIN alike g ON g.grp = b.grp AND g.pull_no = 1
ORDER BY g.platform, g.vehicle, g.calibration, b.bin
