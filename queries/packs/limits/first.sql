-- title: When it runs out of air
-- question: Which limit does each vehicle meet first as power rises, at which power, and is that measured or extrapolated?
-- apart: platform, vehicle
-- param ratio: number, 2, 1, the drive ratio taken as a limit where limits.yaml states none for drive_ratio (null: none)
-- param vane_open: number, 2, %, vanes at most this far closed stand at their open stop: nothing is left to spare the turbine (null: none)
-- param vane_closed: number, 98, %, vanes at least this far closed up to the highest power stand at their closed stop: nothing is left to make boost (null: none)
-- param rail_deficit: number, 0.05, 1, rail pressure short of what is asked for by this share (null: none; a minimum of rail_error_kpa in limits.yaml stands beside it)
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column first_limit: -, the quantity whose limit is met first and stays met up to the highest power; NULL where none is reachable
-- column bound: -, its limit, in its unit
-- column unit: -, its unit
-- column wheel_power_kw: kW, the power from which it is met
-- column lo95: kW, lower end of the 95 % interval from leaving out one pull at a time; NULL for one pull
-- column hi95: kW, upper end of the same; NULL where it lies beyond what may be extrapolated
-- column basis: -, measured; extrapolated, at most 15 % beyond highest_power_kw; else not reachable
-- column highest_power_kw: kW, middle of the highest power bin measured
-- column n: 1, pulls with the quantity (pulls used, where no limit is reachable)
-- column next_limit: -, the quantity whose limit is met next
-- column next_power_kw: kW, the power from which that is met
-- column next_basis: -, whether that is measured or extrapolated
-- column not_watched: -, of what ends power, what has no limit stated or was not logged
-- column bound_from: -, limits.yaml, or guide for a limit that is a parameter here
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- column flagged: -, pulls used that a rule doubts: run, segment and why
WITH candidate AS (
    SELECT DISTINCT run_id, segment_id, 'any' AS basis
    FROM curves
    WHERE axis = 'wheel_power_kw'
),
-- include: alike
-- include: limit_of
guide AS (
    SELECT 0 AS entry, 'drive_ratio' AS quantity, 'max' AS direction, $ratio AS bound, '1' AS unit
    UNION ALL SELECT 0, 'vane_pct', 'min', $vane_open, '%'
    UNION ALL SELECT 0, 'vane_pct', 'max', $vane_closed, '%'
    UNION ALL SELECT 0, 'rail_deficit', 'max', $rail_deficit, '1'
),
bound_of AS (
    SELECT grp, entry, quantity, direction, bound, unit, note, 1 AS to_top FROM limit_of
    UNION ALL
    SELECT a.grp, g.entry, g.quantity, g.direction, g.bound, g.unit, NULL AS note, 1 AS to_top
    FROM alike a
    CROSS JOIN guide g
    LEFT JOIN limit_of l ON l.grp = a.grp AND l.quantity = g.quantity AND l.direction = g.direction
    WHERE a.pull_no = 1 AND g.bound IS NOT NULL AND l.grp IS NULL
),
-- include: bound_points
-- include: meets
met_bound AS (
    SELECT m.*, b.entry, b.quantity, b.direction, b.bound, b.unit, row_number() OVER (PARTITION BY m.grp ORDER BY CASE WHEN m.x IS NULL THEN 1 ELSE 0 END, m.x, b.quantity, b.direction) AS place
    FROM met m
    JOIN bound_of b ON b.grp = m.grp AND concat(b.quantity, ' ', b.direction) = m.item
),
watch AS (
    SELECT 'drive_ratio' AS quantity
    UNION ALL SELECT 'exhaust_gauge_kpa'
    UNION ALL SELECT 'lambda_ratio'
    UNION ALL SELECT 'compressor_out_c'
    UNION ALL SELECT 'charge_c'
    UNION ALL SELECT 'turbine_in_c'
    UNION ALL SELECT 'turbo_speed_rpm'
    UNION ALL SELECT 'rail_deficit'
    UNION ALL SELECT 'vane_pct'
),
unwatched AS (
    SELECT a.grp, joined(w.quantity) AS not_watched
    FROM alike a
    CROSS JOIN watch w
    LEFT JOIN (SELECT DISTINCT grp, quantity FROM met_bound) m ON m.grp = a.grp AND m.quantity = w.quantity
    WHERE a.pull_no = 1 AND m.grp IS NULL
    GROUP BY a.grp
),
top AS (
    SELECT a.grp, max(c.bin) AS highest_power_kw
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'wheel_power_kw'
    GROUP BY a.grp
)
SELECT g.platform, g.vehicle, g.calibration, m.quantity AS first_limit, m.bound, m.unit, round(m.x, 1) AS wheel_power_kw, round(m.lo95, 1) AS lo95, round(m.hi95, 1) AS hi95,
    coalesce(m.basis, 'not reachable') AS basis, coalesce(m.highest_power_kw, t.highest_power_kw) AS highest_power_kw, coalesce(m.n, g.pulls) AS n,
    o.quantity AS next_limit, round(o.x, 1) AS next_power_kw, o.basis AS next_basis, u.not_watched, CASE WHEN m.entry = 0 THEN 'guide' WHEN m.entry > 0 THEN 'limits.yaml' END AS bound_from,
    g.test, g.gear, g.locked, g.left_out, g.left_out_why, nullif(trim(g.not_logged), '') AS not_logged, f.flagged
FROM alike g
JOIN top t ON t.grp = g.grp
LEFT JOIN met_bound m ON m.grp = g.grp AND m.place = 1 AND m.x IS NOT NULL
LEFT JOIN met_bound o ON o.grp = g.grp AND o.place = 2 AND o.x IS NOT NULL
LEFT JOIN unwatched u ON u.grp = g.grp
LEFT JOIN flagged f ON f.grp = g.grp
WHERE g.pull_no = 1
ORDER BY g.platform, g.vehicle, g.calibration
