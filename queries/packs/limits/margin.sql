-- title: How far from each limit
-- question: For every vehicle, calibration and limit: how close did it come, at which power, and at which power is the limit met?
-- apart: platform, vehicle
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column quantity: -, the column that limits.yaml limits
-- column bound: -, the limit, in the quantity's unit
-- column direction: -, max or min
-- column worst: -, the worst of the power bins' medians over pulls, up to peak power, in the quantity's unit; NULL where it was not logged
-- column at_power_kw: kW, middle of the bin where it was worst
-- column margin: -, what is left to the limit in the quantity's unit; below 0 where it was passed
-- column expected_power_kw: kW, the power at which the limit is met; NULL where it is not reachable
-- column basis: -, measured; extrapolated, at most 15 % beyond highest_power_kw; else not reachable; NULL where it was not logged
-- column lo95: kW, lower end of the 95 % interval of expected_power_kw from leaving out one pull at a time; NULL for one pull
-- column hi95: kW, upper end of the same; NULL where it lies beyond what may be extrapolated
-- column highest_power_kw: kW, middle of the highest power bin with the quantity
-- column n: 1, pulls with the quantity
-- column unit: -, the quantity's unit
-- column note: -, what to know about the row
-- column limit_note: -, what limits.yaml says of the limit
-- column stands_on: -, outlet or system for drive and exhaust, measured or reckoned for lambda
-- column spool_up_bins: 1, power bins left out as spool-up (of drive ratios, lambda and vanes)
-- column platform: -, the vehicle's platform
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
bound_of AS (
    SELECT *, 0 AS to_top FROM limit_of
),
-- include: bound_points
-- include: meets
worst_bin AS (
    SELECT grp, quantity, direction, bin, max(stands_on) AS stands_on, quantile_of(v, 0.5) AS v FROM bounded GROUP BY grp, quantity, direction, bin
),
worst AS (
    SELECT *, row_number() OVER (PARTITION BY grp, quantity, direction ORDER BY CASE WHEN direction = 'max' THEN -v ELSE v END, bin) AS place FROM worst_bin
)
SELECT g.vehicle, g.calibration, l.quantity, l.bound, l.direction, round(w.v, 4) AS worst, w.bin AS at_power_kw, round(CASE WHEN l.direction = 'max' THEN l.bound - w.v ELSE w.v - l.bound END, 4) AS margin,
    round(m.x, 1) AS expected_power_kw, m.basis, round(m.lo95, 1) AS lo95, round(m.hi95, 1) AS hi95, m.highest_power_kw, coalesce(m.n, 0) AS n, l.unit,
    CASE WHEN w.v IS NULL THEN 'not logged' ELSE m.met_note END AS note, l.note AS limit_note, w.stands_on, coalesce(s.bins, 0) AS spool_up_bins, g.platform, g.test, g.gear, g.locked, g.left_out, g.left_out_why,
    nullif(trim(g.not_logged), '') AS not_logged, f.flagged
FROM alike g
JOIN limit_of l ON l.grp = g.grp
LEFT JOIN met m ON m.grp = g.grp AND m.item = concat(l.quantity, ' ', l.direction)
LEFT JOIN worst w ON w.grp = g.grp AND w.quantity = l.quantity AND w.direction = l.direction AND w.place = 1
LEFT JOIN spool_count s ON s.grp = g.grp AND s.quantity = l.quantity AND s.direction = l.direction
LEFT JOIN flagged f ON f.grp = g.grp
WHERE g.pull_no = 1
ORDER BY g.platform, g.vehicle, g.calibration, l.entry, l.direction
