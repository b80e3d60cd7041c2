-- title: Where the exhaust meets its limit
-- question: At which wheel power does the exhaust after the turbine meet its back-pressure limit, and is that measured or extrapolated?
-- apart: platform, vehicle
-- param limit_kpa: number, null, kPa, the limit (null: the closest one of limits.yaml for exhaust_gauge_kpa)
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column limit_kpa: kPa, the limit asked about, else the one of limits.yaml; NULL where none is stated
-- column wheel_power_kw: kW, the power at which the exhaust meets the limit; NULL where it is not reachable
-- column lo95: kW, lower end of the 95 % interval from leaving out one pull at a time; NULL for one pull
-- column hi95: kW, upper end of the same; NULL where it lies beyond what may be extrapolated
-- column basis: -, measured; extrapolated, at most 15 % beyond highest_power_kw; else not reachable
-- column highest_kpa: kPa, highest of the bins' medians of gauge pressure after the turbine
-- column highest_power_kw: kW, middle of the highest power bin measured
-- column n: 1, pulls with the exhaust's pressure
-- column note: -, what to know about the row
-- column drive_basis: -, where it was measured: outlet (after the turbine) or system (the whole exhaust)
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- column flagged: -, pulls used that a rule doubts: run, segment and why
WITH
-- include: on_exhaust
-- include: alike
-- include: limit_of
point AS (
    SELECT a.grp, a.pull_no, c.bin, CAST(coalesce(c.wheel_power_kw, c.bin) AS DOUBLE) AS x, CAST(c.exhaust_gauge_kpa AS DOUBLE) AS exhaust
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'wheel_power_kw'
        AND CASE WHEN c.turbine_out_kpa IS NULL THEN 'system' ELSE 'outlet' END = a.basis
    WHERE c.exhaust_gauge_kpa IS NOT NULL
),
limited AS (
    SELECT a.grp, coalesce($limit_kpa, l.bound) AS limit_kpa
    FROM alike a
    LEFT JOIN limit_of l ON l.grp = a.grp AND l.quantity = 'exhaust_gauge_kpa' AND l.direction = 'max'
    WHERE a.pull_no = 1
),
level AS (
    SELECT p.grp, 'exhaust' AS item, p.pull_no, p.bin, p.x, p.exhaust - l.limit_kpa AS y, 0 AS to_top
    FROM point p
    JOIN limited l ON l.grp = p.grp AND l.limit_kpa IS NOT NULL
),
-- include: meets
highest AS (
    SELECT grp, max(y) AS highest_kpa, max(bin) AS highest_power_kw FROM (SELECT grp, bin, quantile_of(exhaust, 0.5) AS y FROM point GROUP BY grp, bin) b GROUP BY grp
),
counted AS (
    SELECT grp, count(DISTINCT pull_no) AS n FROM point GROUP BY grp
)
SELECT g.platform, g.vehicle, g.calibration, l.limit_kpa, round(m.x, 1) AS wheel_power_kw, round(m.lo95, 1) AS lo95, round(m.hi95, 1) AS hi95,
    coalesce(m.basis, 'not reachable') AS basis, round(h.highest_kpa, 2) AS highest_kpa, h.highest_power_kw, coalesce(n.n, 0) AS n,
    CASE WHEN l.limit_kpa IS NULL THEN 'no limit is stated: give limit_kpa, or add one of exhaust_gauge_kpa to limits.yaml' ELSE m.met_note END AS note,
    g.basis AS drive_basis, g.test, g.gear, g.locked, g.left_out, g.left_out_why, nullif(trim(g.not_logged), '') AS not_logged, f.flagged
FROM alike g
JOIN limited l ON l.grp = g.grp
LEFT JOIN met m ON m.grp = g.grp
LEFT JOIN highest h ON h.grp = g.grp
LEFT JOIN counted n ON n.grp = g.grp
LEFT JOIN flagged f ON f.grp = g.grp
WHERE g.pull_no = 1
ORDER BY g.platform, g.vehicle, g.calibration
