-- title: How rich it runs by wheel power
-- question: How much air is left over the fuel as power rises, and how often does it fall below the limit?
-- apart: platform, vehicle
-- param limit: number, null, 1, the lowest lambda (null: the closest minimum of limits.yaml for lambda_ratio)
-- param basis: one of measured|reckoned, null, -, lambda as a sensor reads it or as reckoned from air and fuel (null: the most frequent)
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column wheel_power_kw: kW, the power bin's middle (bins of 5)
-- column lambda_p05: 1, median over pulls of the lambda that 5 % of the bin's rows lie below
-- column lambda_median: 1, median over pulls of the bin's mean lambda
-- column below_limit_frac: 1, share of the pulls whose mean lambda in the bin lies below the limit; NULL where none is stated
-- column n: 1, pulls in the bin
-- column limit_ratio: 1, the limit
-- column lambda_basis: -, measured by a sensor, or reckoned from air and fuel
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column flagged_n: 1, pulls used that a rule doubts; torque/peak and quality/repeat name them
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- plot: line x=wheel_power_kw y=lambda_median by=platform,vehicle,calibration limit=lambda_ratio
WITH basis_count AS (
    SELECT run_id, segment_id, CASE WHEN lambda_ratio IS NULL THEN 'reckoned' ELSE 'measured' END AS basis, count(*) AS bins
    FROM curves
    WHERE axis = 'wheel_power_kw' AND (lambda_ratio IS NOT NULL OR lambda_calc_ratio IS NOT NULL)
    GROUP BY run_id, segment_id, CASE WHEN lambda_ratio IS NULL THEN 'reckoned' ELSE 'measured' END
),
basis_place AS (
    SELECT *, row_number() OVER (PARTITION BY run_id, segment_id ORDER BY bins DESC, basis) AS place
    FROM basis_count
),
candidate AS (
    SELECT run_id, segment_id, basis FROM basis_place WHERE place = 1
),
-- include: alike
-- include: limit_of
binned AS (
    SELECT a.grp, c.bin, CAST(CASE WHEN a.basis = 'measured' THEN c.lambda_ratio ELSE c.lambda_calc_ratio END AS DOUBLE) AS lambda_mean,
        CAST(CASE WHEN a.basis = 'measured' THEN c.lambda_ratio_p05 ELSE c.lambda_calc_ratio_p05 END AS DOUBLE) AS lambda_low, coalesce($limit, l.bound) AS bound
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'wheel_power_kw'
    LEFT JOIN limit_of l ON l.grp = a.grp AND l.quantity = 'lambda_ratio' AND l.direction = 'min'
),
answer AS (
    SELECT grp, bin, max(bound) AS bound, quantile_of(lambda_low, 0.5) AS lambda_p05, quantile_of(lambda_mean, 0.5) AS lambda_median,
        avg(CASE WHEN lambda_mean < bound THEN 1.0 WHEN lambda_mean >= bound THEN 0.0 END) AS below_limit_frac, count(*) AS n
    FROM binned
    WHERE lambda_mean IS NOT NULL
    GROUP BY grp, bin
)
SELECT g.platform, g.vehicle, g.calibration, b.bin AS wheel_power_kw, round(b.lambda_p05, 3) AS lambda_p05, round(b.lambda_median, 3) AS lambda_median,
    round(b.below_limit_frac, 3) AS below_limit_frac, b.n, b.bound AS limit_ratio, g.basis AS lambda_basis, g.test, g.gear, g.locked, g.left_out, g.left_out_why, g.flagged_n, nullif(trim(g.not_logged), '') AS not_logged
FROM answer b
JOIN alike g ON g.grp = b.grp AND g.pull_no = 1
ORDER BY g.platform, g.vehicle, g.calibration, b.bin
