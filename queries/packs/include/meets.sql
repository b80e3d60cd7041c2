-- Where a quantity meets its bound as power rises. Given is level(grp, item, pull_no, bin, x, y, to_top): a row a pull and power bin, x the
-- power, y how far the quantity is beyond its bound (below 0: not yet), item what is asked of the group, to_top 1 where it must stay
-- beyond up to the highest power, 0 where up to its worst is enough.
-- Measured: up to that bin the crossing lies where the weighted sum of y over all bins above is greatest (a
-- rising step function fitted by least squares: no first noisy crossing), and a parabola through the bins near it gives the power.
-- Extrapolated: a parabola through the bins of the upper half of power, where y still rises at the top; where no parabola fits those (drive
-- pressure has a knee), of the upper third or fifth. The interval is from
-- leaving out one pull at a time (jackknife, Student's t).
level_centre AS (
    SELECT grp, item, bin, quantile_of(y, 0.5) AS y FROM level GROUP BY grp, item, bin
),
level_spread AS (
    SELECT l.grp, l.item, coalesce(1.4826 * quantile_of(CASE WHEN l.y <> c.y THEN abs(l.y - c.y) END, 0.5), 0) AS sd -- Of an odd number of pulls one is the median, and no distance.
    FROM level l
    JOIN level_centre c ON c.grp = l.grp AND c.item = l.item AND c.bin = l.bin
    GROUP BY l.grp, l.item
),
level_tamed AS ( -- No pull is dropped, but none pulls harder than three robust standard deviations from its bin's median.
    SELECT l.grp, l.item, l.to_top, l.pull_no, l.bin, l.x, least(greatest(l.y, c.y - 3 * s.sd), c.y + 3 * s.sd) AS y
    FROM level l
    JOIN level_centre c ON c.grp = l.grp AND c.item = l.item AND c.bin = l.bin
    JOIN level_spread s ON s.grp = l.grp AND s.item = l.item
),
level_total AS (
    SELECT grp, item, bin, max(to_top) AS to_top, count(*) AS n, sum(x) AS sx, sum(y) AS sy FROM level_tamed GROUP BY grp, item, bin
),
level_smooth AS (
    SELECT *, sum(sy) OVER w / sum(n) OVER w AS y
    FROM level_total
    WINDOW w AS (PARTITION BY grp, item ORDER BY bin ROWS BETWEEN 1 PRECEDING AND 1 FOLLOWING)
),
level_place AS (
    SELECT *, row_number() OVER (PARTITION BY grp, item ORDER BY CASE WHEN to_top = 1 THEN bin END DESC, y DESC, bin) AS place, min(sx / n) OVER (PARTITION BY grp, item) AS lowest_x,
        max(sx / n) OVER (PARTITION BY grp, item) AS highest_x, max(bin) OVER (PARTITION BY grp, item) AS highest_bin
    FROM level_smooth
),
level_top AS (
    SELECT grp, item, bin AS top_bin, sx / n AS top_x, lowest_x, highest_x, highest_bin FROM level_place WHERE place = 1
),
level_pull AS (
    SELECT DISTINCT grp, item, pull_no FROM level_tamed
),
level_pulls AS (
    SELECT grp, item, count(*) AS n FROM level_pull GROUP BY grp, item
),
level_leave AS ( -- Pull 0 is none left out.
    SELECT grp, item, pull_no FROM level_pull
    UNION ALL
    SELECT grp, item, 0 AS pull_no FROM level_top
),
level_fit AS (
    SELECT t.grp, t.item, v.pull_no, t.bin, p.top_bin, p.highest_x, t.n - coalesce(o.one, 0) AS w, (t.sx - coalesce(o.x, 0)) / (t.n - coalesce(o.one, 0)) AS x,
        (t.sy - coalesce(o.y, 0)) / (t.n - coalesce(o.one, 0)) AS y
    FROM level_total t
    JOIN level_top p ON p.grp = t.grp AND p.item = t.item
    JOIN level_leave v ON v.grp = t.grp AND v.item = t.item
    LEFT JOIN (SELECT *, 1 AS one FROM level_tamed) o ON o.grp = t.grp AND o.item = t.item AND o.bin = t.bin AND o.pull_no = v.pull_no
    WHERE t.n > coalesce(o.one, 0)
),
level_above AS (
    SELECT grp, item, pull_no, bin, x,
        sum(w * y) OVER (PARTITION BY grp, item, pull_no ORDER BY bin DESC ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS excess,
        lag(x) OVER (PARTITION BY grp, item, pull_no ORDER BY bin) AS below_x
    FROM level_fit
    WHERE bin <= top_bin
),
level_above_place AS (
    SELECT *, row_number() OVER (PARTITION BY grp, item, pull_no ORDER BY excess DESC, bin) AS place FROM level_above
),
level_split AS (
    SELECT grp, item, pull_no, below_x, (below_x + x) / 2 AS x, greatest(12.5, 0.15 * (below_x + x) / 2, 1.6 * (x - below_x)) AS reach
    FROM level_above_place
    WHERE place = 1 AND excess >= 0
),
level_shares AS (
    SELECT 0.5 AS share UNION ALL SELECT 0.66 AS share UNION ALL SELECT 0.8 AS share
),
level_stretch AS ( -- Where polynomials are fitted: about the crossing, or over the upper half of power where there is none.
    SELECT grp, item, pull_no, 0.0 AS share, x, reach, x - reach AS x_from, x + reach AS x_to FROM level_split WHERE below_x IS NOT NULL
    UNION ALL
    SELECT v.grp, v.item, v.pull_no, h.share, (1 + h.share) / 2 * t.highest_x AS x, (1 - h.share) / 2 * t.highest_x AS reach, h.share * t.highest_x AS x_from, t.highest_x AS x_to
    FROM level_leave v
    CROSS JOIN level_shares h
    JOIN level_top t ON t.grp = v.grp AND t.item = v.item AND t.top_x >= 0.85 * t.highest_x
    LEFT JOIN level_split s ON s.grp = v.grp AND s.item = v.item AND s.pull_no = v.pull_no
    WHERE s.grp IS NULL
),
level_moment AS (
    SELECT grp, item, pull_no, share, count(*) AS bins, sum(w) AS m0, sum(w * u) AS m1, sum(w * u * u) AS m2, sum(w * u * u * u) AS m3, sum(w * u * u * u * u) AS m4,
        sum(w * y) AS t0, sum(w * u * y) AS t1, sum(w * u * u * y) AS t2, sum(w * y * y) AS tyy
    FROM (
        SELECT s.grp, s.item, s.pull_no, s.share, f.w, (f.x - s.x) / s.reach AS u, f.y
        FROM level_stretch s
        JOIN level_fit f ON f.grp = s.grp AND f.item = s.item AND f.pull_no = s.pull_no AND f.x BETWEEN s.x_from - 0.001 AND s.x_to + 0.001
    ) s
    GROUP BY grp, item, pull_no, share
),
level_determinant AS (
    SELECT *, m0 * m2 - m1 * m1 AS det2, m0 * (m2 * m4 - m3 * m3) - m1 * (m1 * m4 - m2 * m3) + m2 * (m1 * m3 - m2 * m2) AS det3 FROM level_moment
),
level_polynomial AS ( -- l: the line; p: the parabola, NULL where the bins are too few for one.
    SELECT *, CASE WHEN bins >= 2 AND det2 > 1e-9 * m0 * m0 THEN (t0 * m2 - t1 * m1) / det2 END AS l0, CASE WHEN bins >= 2 AND det2 > 1e-9 * m0 * m0 THEN (m0 * t1 - m1 * t0) / det2 END AS l1,
        CASE WHEN bins >= 4 AND det3 > 1e-9 * m0 * m0 * m0 THEN (t0 * (m2 * m4 - m3 * m3) - m1 * (t1 * m4 - t2 * m3) + m2 * (t1 * m3 - t2 * m2)) / det3 END AS p0,
        CASE WHEN bins >= 4 AND det3 > 1e-9 * m0 * m0 * m0 THEN (m0 * (t1 * m4 - t2 * m3) - t0 * (m1 * m4 - m2 * m3) + m2 * (m1 * t2 - m2 * t1)) / det3 END AS p1,
        CASE WHEN bins >= 4 AND det3 > 1e-9 * m0 * m0 * m0 THEN (m0 * (m2 * t2 - m3 * t1) - m1 * (m1 * t2 - m2 * t1) + t0 * (m1 * m3 - m2 * m2)) / det3 END AS p2
    FROM level_determinant
),
level_root AS (
    SELECT *, CASE WHEN p1 * p1 >= 4 * p0 * p2 AND p1 + sqrt(greatest(p1 * p1 - 4 * p0 * p2, 0)) > 0 THEN -2 * p0 / (p1 + sqrt(greatest(p1 * p1 - 4 * p0 * p2, 0))) END AS parabola_u,
        CASE WHEN l1 > 0 THEN -l0 / l1 END AS line_u
    FROM level_polynomial
),
level_share AS ( -- The widest stretch that a parabola fits within the scatter of the bins' means: its mean square about them no more than three times that.
    SELECT r.grp, r.item, coalesce(min(CASE WHEN r.tyy - r.p0 * r.t0 - r.p1 * r.t1 - r.p2 * r.t2 <= 3 * (r.bins - 3) * greatest(s.sd * s.sd, 1e-6 * r.tyy / r.m0) THEN r.share END), max(CASE WHEN r.bins >= 4 THEN r.share END), 0.5) AS share
    FROM level_root r
    JOIN level_spread s ON s.grp = r.grp AND s.item = r.item
    WHERE r.pull_no = 0 AND r.share > 0
    GROUP BY r.grp, r.item
),
level_crossing AS (
    SELECT s.grp, s.item, s.pull_no, 'measured' AS basis,
        CASE WHEN s.below_x IS NULL THEN t.lowest_x ELSE greatest(t.lowest_x, least(t.top_x, s.x + s.reach * greatest(-1, least(1, coalesce(CASE WHEN r.p1 > 0 THEN r.parabola_u END, r.line_u, 0))))) END AS x,
        CASE WHEN s.below_x IS NULL THEN 1 ELSE 0 END AS at_lowest
    FROM level_split s
    JOIN level_top t ON t.grp = s.grp AND t.item = s.item
    LEFT JOIN level_root r ON r.grp = s.grp AND r.item = s.item AND r.pull_no = s.pull_no AND r.share = 0
    UNION ALL
    SELECT v.grp, v.item, v.pull_no, 'extrapolated' AS basis, greatest(t.top_x, v.x + v.reach * CASE WHEN r.p0 IS NULL THEN r.line_u ELSE r.parabola_u END) AS x, 0 AS at_lowest
    FROM level_stretch v
    JOIN level_top t ON t.grp = v.grp AND t.item = v.item
    JOIN level_root r ON r.grp = v.grp AND r.item = v.item AND r.pull_no = v.pull_no AND r.share = v.share
    LEFT JOIN level_share h ON h.grp = v.grp AND h.item = v.item
    LEFT JOIN level_split s ON s.grp = v.grp AND s.item = v.item AND s.pull_no = v.pull_no
    WHERE s.grp IS NULL AND v.share = coalesce(h.share, 0.5) AND v.x + v.reach * CASE WHEN r.p0 IS NULL THEN r.line_u ELSE r.parabola_u END <= 1.5 * t.highest_bin
),
level_jackknife AS (
    SELECT grp, item, count(*) AS reached, CASE WHEN count(*) > 1 THEN sqrt((count(*) - 1) * var_pop(x)) END AS se
    FROM level_crossing
    WHERE pull_no > 0
    GROUP BY grp, item
),
level_answer AS (
    SELECT t.grp, t.item, t.lowest_x, t.highest_bin AS highest_power_kw, n.n, coalesce(j.reached, 0) AS reached, t975(n.n - 1) * j.se AS half, coalesce(c.at_lowest, 0) AS at_lowest,
        CASE WHEN c.basis = 'measured' OR c.x <= 1.15 * t.highest_bin THEN c.basis ELSE 'not reachable' END AS basis,
        CASE WHEN c.basis = 'measured' OR c.x <= 1.15 * t.highest_bin THEN c.x END AS x
    FROM level_top t
    JOIN level_pulls n ON n.grp = t.grp AND n.item = t.item
    LEFT JOIN level_crossing c ON c.grp = t.grp AND c.item = t.item AND c.pull_no = 0
    LEFT JOIN level_jackknife j ON j.grp = t.grp AND j.item = t.item
),
met AS ( -- x and its interval are NULL where the bound is not reachable; an end that cannot be told, or lies beyond what may be extrapolated, is NULL.
    SELECT grp, item, highest_power_kw, n, basis, x, CASE WHEN at_lowest = 0 AND x - half IS NOT NULL THEN greatest(x - half, lowest_x) END AS lo95,
        CASE WHEN at_lowest = 0 AND reached = n AND x + half <= 1.15 * highest_power_kw THEN x + half END AS hi95,
        CASE WHEN basis = 'not reachable' THEN NULL
            WHEN at_lowest = 1 THEN 'met at the lowest power measured'
            WHEN n = 1 THEN 'one pull: no interval'
            WHEN reached < n THEN 'not met without one of the pulls: no upper end'
            WHEN x + half > 1.15 * highest_power_kw THEN 'upper end beyond 15 % over the highest power' END AS met_note
    FROM level_answer
),
