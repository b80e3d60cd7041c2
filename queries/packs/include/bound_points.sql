-- What is limited, by pull and power bin. Given is bound_of(grp, entry, quantity, direction, bound, unit, note, to_top). Of quantities that stand on one of
-- two things the one that most pulls have is taken: drive and exhaust on outlet or system, lambda measured or reckoned. Spool-up is
-- left out: of drive ratios what lies before their lowest, of lambda and vanes where boost is below half of its highest.
bound_point AS (
    SELECT a.grp, a.pull_no, b.entry, b.quantity, b.direction, b.bound, b.to_top, c.bin, CAST(coalesce(c.wheel_power_kw, c.bin) AS DOUBLE) AS x, CAST(c.boost_kpa AS DOUBLE) AS boost,
        CASE WHEN b.quantity IN ('net_drive_kpa', 'drive_ratio') THEN c.drive_basis
            WHEN b.quantity IN ('exhaust_gauge_kpa', 'after_dpf_kpa') THEN CASE WHEN c.turbine_out_kpa IS NULL THEN 'system' ELSE 'outlet' END
            WHEN b.quantity = 'lambda_ratio' THEN CASE WHEN c.lambda_ratio IS NULL THEN 'reckoned' ELSE 'measured' END END AS stands_on,
        CAST(CASE WHEN b.quantity = 'rail_deficit' THEN CASE WHEN c.rail_set_kpa > 0 THEN -c.rail_error_kpa / c.rail_set_kpa END
            WHEN b.quantity = 'lambda_ratio' AND c.lambda_ratio IS NULL THEN c.lambda_calc_ratio
            ELSE
-- include: every_column
            END AS DOUBLE) AS v
    FROM alike a
    JOIN bound_of b ON b.grp = a.grp
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'wheel_power_kw'
),
stand_count AS (
    SELECT grp, entry, quantity, direction, stands_on, count(DISTINCT pull_no) AS n FROM bound_point WHERE v IS NOT NULL GROUP BY grp, entry, quantity, direction, stands_on
),
stand AS (
    SELECT *, row_number() OVER (PARTITION BY grp, entry, quantity, direction ORDER BY n DESC, stands_on) AS place FROM stand_count
),
stood AS (
    SELECT p.*
    FROM bound_point p
    JOIN stand s ON s.grp = p.grp AND s.entry = p.entry AND s.quantity = p.quantity AND s.direction = p.direction AND s.stands_on IS NOT DISTINCT FROM p.stands_on AND s.place = 1
    WHERE p.v IS NOT NULL
),
stood_bin AS (
    SELECT grp, entry, quantity, direction, bin, quantile_of(v, 0.5) AS v, quantile_of(boost, 0.5) AS boost FROM stood GROUP BY grp, entry, quantity, direction, bin
),
stood_smooth AS (
    SELECT *, avg(v) OVER (PARTITION BY grp, entry, quantity, direction ORDER BY bin ROWS BETWEEN 1 PRECEDING AND 1 FOLLOWING) AS smooth, max(boost) OVER (PARTITION BY grp, entry, quantity, direction) AS most_boost
    FROM stood_bin
),
stood_place AS (
    SELECT *, row_number() OVER (PARTITION BY grp, entry, quantity, direction ORDER BY smooth, bin) AS place FROM stood_smooth
),
spooled AS (
    SELECT grp, entry, quantity, direction, max(CASE WHEN quantity IN ('drive_ratio', 'gross_ratio') AND direction = 'max' THEN CASE WHEN place = 1 THEN bin END END) AS ratio_from,
        min(CASE WHEN quantity IN ('lambda_ratio', 'lambda_calc_ratio', 'vane_pct') AND boost >= 0.5 * most_boost THEN bin END) AS boost_from
    FROM stood_place
    GROUP BY grp, entry, quantity, direction
),
bounded AS (
    SELECT p.grp, p.pull_no, p.entry, p.quantity, p.direction, concat(p.quantity, ' ', p.direction) AS item, p.bound, p.to_top, p.bin, p.x, p.v, p.stands_on
    FROM stood p
    JOIN spooled s ON s.grp = p.grp AND s.entry = p.entry AND s.quantity = p.quantity AND s.direction = p.direction
    WHERE p.bin >= coalesce(s.ratio_from, s.boost_from, p.bin)
),
spool_count AS (
    SELECT s.grp, s.quantity, s.direction, count(*) AS bins
    FROM spooled s
    JOIN stood_bin b ON b.grp = s.grp AND b.entry = s.entry AND b.quantity = s.quantity AND b.direction = s.direction AND b.bin < coalesce(s.ratio_from, s.boost_from)
    GROUP BY s.grp, s.quantity, s.direction
),
level AS (
    SELECT grp, item, pull_no, bin, x, CASE WHEN direction = 'max' THEN v - bound ELSE bound - v END AS y, to_top FROM bounded
),
