-- title: Platforms side by side
-- question: How does each platform stand against the others: power, turbo, shift speed and exhaust at rated power?
-- param vehicle: text, null, -, only this vehicle
-- param platform: text, null, -, only this platform
-- column platform: -, the platform
-- column duty: -, light or heavy
-- column peak_power_kw: kW, highest peak power of its vehicles and calibrations (as in torque/peak)
-- column peak_torque_nm: N·m, highest peak torque of the same
-- column drive_ratio_best: 1, lowest drive ratio at rated power of its vehicles and calibrations (rated power is where each one's power curve peaks)
-- column drive_ratio_worst: 1, highest of the same
-- column shift_rpm_wide_open: rpm, median engine speed of upshifts with the pedal at 90 or more
-- column exhaust_gauge_kpa: kPa, median over vehicles and calibrations of exhaust pressure at rated power
-- column lambda_median: 1, median over vehicles and calibrations of lambda at rated power
-- column runs: 1, runs of the platform
-- column vehicles: 1, vehicles of the platform
-- column pulls: 1, pulls that the figures stand on
-- column drive_basis: -, what net drive stands on; pulls on the other basis are not in the ratios
WITH candidate AS (
    SELECT DISTINCT run_id, segment_id, 'any' AS basis
    FROM curves
    WHERE axis = 'engine_speed_rpm' AND torque_nm IS NOT NULL
),
-- include: alike
-- include: peak
rated_pull AS (
    SELECT a.grp, a.platform, a.run_id, a.segment_id, p.at_rpm, greatest(150, 0.06 * p.at_rpm) AS reach
    FROM peak p
    JOIN alike a ON a.grp = p.grp
),
rated_bin AS (
    SELECT r.grp, r.platform, r.run_id, r.segment_id, r.at_rpm, c.bin, (coalesce(c.engine_speed_rpm, c.bin) - r.at_rpm) / r.reach AS u, c.drive_ratio, c.drive_basis,
        c.exhaust_gauge_kpa, CASE WHEN c.turbine_out_kpa IS NULL THEN 'system' ELSE 'outlet' END AS exhaust_basis, c.lambda_ratio
    FROM rated_pull r
    JOIN curves c ON c.run_id = r.run_id AND c.segment_id = r.segment_id AND c.axis = 'engine_speed_rpm'
        AND abs(coalesce(c.engine_speed_rpm, c.bin) - r.at_rpm) <= r.reach
),
rated_value AS (
    SELECT grp, platform, run_id, segment_id, 'drive' AS quantity, drive_basis AS basis, bin, u, CAST(drive_ratio AS DOUBLE) AS y FROM rated_bin WHERE drive_ratio IS NOT NULL AND drive_basis IS NOT NULL
    UNION ALL
    SELECT grp, platform, run_id, segment_id, 'exhaust' AS quantity, exhaust_basis AS basis, bin, u, CAST(exhaust_gauge_kpa AS DOUBLE) AS y FROM rated_bin WHERE exhaust_gauge_kpa IS NOT NULL
    UNION ALL
    SELECT grp, platform, run_id, segment_id, 'lambda' AS quantity, 'any' AS basis, bin, u, CAST(lambda_ratio AS DOUBLE) AS y FROM rated_bin WHERE lambda_ratio IS NOT NULL
),
basis_count AS (
    SELECT platform, quantity, basis, count(DISTINCT run_id || '/' || segment_id) AS pulls
    FROM rated_value
    GROUP BY platform, quantity, basis
),
basis_place AS (
    SELECT *, row_number() OVER (PARTITION BY platform, quantity ORDER BY pulls DESC, basis) AS place FROM basis_count
),
middle_value AS (
    SELECT v.platform, v.grp, v.quantity, v.basis, v.bin, avg(v.u) AS u, quantile_of(v.y, 0.5) AS y, count(*) AS n
    FROM rated_value v
    JOIN basis_place b ON b.platform IS NOT DISTINCT FROM v.platform AND b.quantity = v.quantity AND b.basis = v.basis AND b.place = 1
    GROUP BY v.platform, v.grp, v.quantity, v.basis, v.bin
),
rated_moment AS (
    SELECT platform, grp, quantity, basis, min(u) AS u_lo, max(u) AS u_hi, sum(n) AS m0, sum(n * u) / sum(n) AS u_mean, sum(n * y) / sum(n) AS y_mean,
        sum(n * u * u) - sum(n * u) * sum(n * u) / sum(n) AS uu, sum(n * u * y) - sum(n * u) * sum(n * y) / sum(n) AS uy
    FROM middle_value
    GROUP BY platform, grp, quantity, basis
),
rated AS (
    SELECT platform, grp, quantity, basis, y_mean + CASE WHEN uu > 1e-6 * m0 THEN uy / uu * (greatest(u_lo, least(u_hi, 0)) - u_mean) ELSE 0 END AS y
    FROM rated_moment
),
ease AS (
    SELECT platform, max(CASE WHEN quantity = 'drive' THEN basis END) AS drive_basis,
        min(CASE WHEN quantity = 'drive' THEN y END) AS drive_ratio_best, max(CASE WHEN quantity = 'drive' THEN y END) AS drive_ratio_worst,
        quantile_of(CASE WHEN quantity = 'exhaust' THEN y END, 0.5) AS exhaust_gauge_kpa, quantile_of(CASE WHEN quantity = 'lambda' THEN y END, 0.5) AS lambda_median
    FROM rated
    GROUP BY platform
),
described AS (
    SELECT * FROM alike WHERE pull_no = 1
),
strength AS (
    SELECT g.platform, max(p.peak_power_kw) AS peak_power_kw, max(p.peak_torque_nm) AS peak_torque_nm, CAST(sum(g.pulls) AS BIGINT) AS pulls
    FROM peak p
    JOIN described g ON g.grp = p.grp
    GROUP BY g.platform
),
upshift AS (
    SELECT r.platform, quantile_of(s.engine_speed_rpm, 0.5) AS engine_speed_rpm
    FROM segments s
    JOIN runs r ON r.run_id = s.run_id
    WHERE s.kind = 'shift' AND s.from_gear > 0 AND s.to_gear > s.from_gear AND s.pedal_pct >= 90
        AND ($vehicle IS NULL OR r.vehicle = $vehicle)
    GROUP BY r.platform
),
park AS (
    SELECT platform, max(duty) AS duty, count(*) AS runs, count(DISTINCT vehicle) AS vehicles
    FROM runs
    WHERE ($vehicle IS NULL OR vehicle = $vehicle) AND ($platform IS NULL OR platform = $platform)
    GROUP BY platform
)
SELECT k.platform, k.duty, round(s.peak_power_kw, 2) AS peak_power_kw, round(s.peak_torque_nm, 1) AS peak_torque_nm,
    round(e.drive_ratio_best, 3) AS drive_ratio_best, round(e.drive_ratio_worst, 3) AS drive_ratio_worst, round(u.engine_speed_rpm, 1) AS shift_rpm_wide_open,
    round(e.exhaust_gauge_kpa, 2) AS exhaust_gauge_kpa, round(e.lambda_median, 3) AS lambda_median, k.runs, k.vehicles, coalesce(s.pulls, 0) AS pulls, e.drive_basis
FROM park k
LEFT JOIN strength s ON s.platform IS NOT DISTINCT FROM k.platform
LEFT JOIN ease e ON e.platform IS NOT DISTINCT FROM k.platform
LEFT JOIN upshift u ON u.platform IS NOT DISTINCT FROM k.platform
ORDER BY k.platform
