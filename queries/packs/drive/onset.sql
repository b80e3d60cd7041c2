-- title: Where the turbo stops being at ease
-- question: From which wheel power on does the drive ratio stay at or above a threshold?
-- apart: platform, vehicle
-- param thresholds: list of numbers, [1.0, 1.2, 1.5, 2.0], 1, the drive ratios asked about
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column threshold: 1, the drive ratio asked about
-- column wheel_power_kw: kW, the power from which the ratio stays at or above it; NULL where it was not reached
-- column lo95: kW, lower end of the 95 % interval from leaving out one pull at a time; NULL for one pull
-- column hi95: kW, upper end of the same; NULL where it lies beyond what was measured
-- column highest_power_kw: kW, middle of the highest power bin with a drive ratio
-- column n: 1, pulls with a drive ratio
-- column note: -, what to know about the row
-- column ratio_min_kw: kW, power at which the ratio is lowest; what lies below it is spool-up and left out
-- column spool_up_bins: 1, bins of pulls left out as spool-up
-- column drive_basis: -, what net drive stands on: outlet or system
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- column flagged: -, pulls used that a rule doubts: run, segment and why
-- plot: line x=threshold y=wheel_power_kw by=platform,vehicle,calibration band=lo95:hi95
--
-- A rising step function is fitted to the pulls' bin means by least squares. Where that fit reaches the threshold is where the
-- weighted sum of (ratio - threshold) over all bins above is greatest: no first noisy crossing. A parabola through the bins
-- near that place gives the power. Leaving out one pull at a time and fitting anew gives the interval (jackknife, Student's t).
WITH
-- include: on_basis
-- include: alike
point AS (
    SELECT a.grp, a.pull_no, c.bin, CAST(coalesce(c.wheel_power_kw, c.bin) AS DOUBLE) AS x, CAST(c.drive_ratio AS DOUBLE) AS y
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'wheel_power_kw' AND c.drive_basis = a.basis
    WHERE c.drive_ratio IS NOT NULL
),
centre AS (
    SELECT grp, bin, quantile_of(y, 0.5) AS y FROM point GROUP BY grp, bin
),
spread AS ( -- A robust standard deviation, relative, and never below 1 %. Of an odd number of pulls one is the median, and no distance.
    SELECT p.grp, greatest(0.01, coalesce(1.4826 * quantile_of(CASE WHEN p.y <> c.y THEN abs(p.y - c.y) / greatest(abs(c.y), 0.1) END, 0.5), 0)) AS sd
    FROM point p
    JOIN centre c ON c.grp = p.grp AND c.bin = p.bin
    GROUP BY p.grp
),
tamed AS ( -- No pull is dropped, but none pulls harder than three of those from its bin's median.
    SELECT p.grp, p.pull_no, p.bin, p.x, least(greatest(p.y, c.y - 3 * s.sd * greatest(abs(c.y), 0.1)), c.y + 3 * s.sd * greatest(abs(c.y), 0.1)) AS y
    FROM point p
    JOIN centre c ON c.grp = p.grp AND c.bin = p.bin
    JOIN spread s ON s.grp = p.grp
),
total AS (
    SELECT grp, bin, count(*) AS n, sum(x) AS sx, sum(y) AS sy FROM tamed GROUP BY grp, bin
),
smooth AS (
    SELECT *, sum(sy) OVER w / sum(n) OVER w AS y
    FROM total
    WINDOW w AS (PARTITION BY grp ORDER BY bin ROWS BETWEEN 1 PRECEDING AND 1 FOLLOWING)
),
smooth_place AS (
    SELECT *, row_number() OVER (PARTITION BY grp ORDER BY y, bin) AS place, min(sx / n) OVER (PARTITION BY grp) AS lowest_x, max(sx / n) OVER (PARTITION BY grp) AS highest_x, max(bin) OVER (PARTITION BY grp) AS highest_bin
    FROM smooth
),
lowest AS (
    SELECT grp, bin AS min_bin, sx / n AS min_x, lowest_x, highest_x, highest_bin FROM smooth_place WHERE place = 1
),
spool AS (
    SELECT l.grp, count(*) AS bins
    FROM tamed p
    JOIN lowest l ON l.grp = p.grp
    WHERE p.bin < l.min_bin
    GROUP BY l.grp
),
rated AS (
    SELECT DISTINCT grp, pull_no FROM tamed
),
leave AS ( -- Pull 0 is none left out.
    SELECT grp, pull_no FROM rated
    UNION ALL
    SELECT grp, 0 AS pull_no FROM lowest
),
pulls AS (
    SELECT grp, count(*) AS n FROM rated GROUP BY grp
),
fit AS (
    SELECT t.grp, v.pull_no, t.bin, t.n - coalesce(o.one, 0) AS w, (t.sx - coalesce(o.x, 0)) / (t.n - coalesce(o.one, 0)) AS x, (t.sy - coalesce(o.y, 0)) / (t.n - coalesce(o.one, 0)) AS y
    FROM total t
    JOIN lowest l ON l.grp = t.grp AND t.bin >= l.min_bin
    JOIN leave v ON v.grp = t.grp
    LEFT JOIN (SELECT *, 1 AS one FROM tamed) o ON o.grp = t.grp AND o.bin = t.bin AND o.pull_no = v.pull_no
    WHERE t.n > coalesce(o.one, 0)
),
threshold AS (
    SELECT DISTINCT threshold FROM (SELECT each_of($thresholds) AS threshold) t
),
above AS (
    SELECT f.grp, f.pull_no, t.threshold, f.bin, f.x,
        sum(f.w * (f.y - t.threshold)) OVER (PARTITION BY f.grp, f.pull_no, t.threshold ORDER BY f.bin DESC ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS excess,
        lag(f.x) OVER (PARTITION BY f.grp, f.pull_no, t.threshold ORDER BY f.bin) AS below_x
    FROM fit f
    CROSS JOIN threshold t
),
above_place AS (
    SELECT *, row_number() OVER (PARTITION BY grp, pull_no, threshold ORDER BY excess DESC, bin) AS place FROM above
),
split AS (
    SELECT grp, pull_no, threshold, below_x, (below_x + x) / 2 AS x, greatest(12.5, 0.15 * (below_x + x) / 2, 1.6 * (x - below_x)) AS reach
    FROM above_place
    WHERE place = 1 AND excess >= 0
),
moment AS (
    SELECT s.grp, s.pull_no, s.threshold, s.x, s.reach, count(*) AS bins, sum(w) AS m0, sum(w * u) AS m1, sum(w * u * u) AS m2, sum(w * u * u * u) AS m3, sum(w * u * u * u * u) AS m4,
        sum(w * y) AS t0, sum(w * u * y) AS t1, sum(w * u * u * y) AS t2
    FROM (
        SELECT s.grp, s.pull_no, s.threshold, s.x, s.reach, f.w, (f.x - s.x) / s.reach AS u, f.y - s.threshold AS y
        FROM split s
        JOIN fit f ON f.grp = s.grp AND f.pull_no = s.pull_no AND abs(f.x - s.x) <= s.reach
        WHERE s.below_x IS NOT NULL
    ) s
    GROUP BY s.grp, s.pull_no, s.threshold, s.x, s.reach
),
determinant AS (
    SELECT *, m0 * m2 - m1 * m1 AS det2, m0 * (m2 * m4 - m3 * m3) - m1 * (m1 * m4 - m2 * m3) + m2 * (m1 * m3 - m2 * m2) AS det3 FROM moment
),
polynomial AS ( -- l: the line; p: the parabola, NULL where the bins are too few for one.
    SELECT *, (t0 * m2 - t1 * m1) / det2 AS l0, (m0 * t1 - m1 * t0) / det2 AS l1,
        CASE WHEN bins >= 4 AND det3 > 1e-9 * m0 * m0 * m0 THEN (t0 * (m2 * m4 - m3 * m3) - m1 * (t1 * m4 - t2 * m3) + m2 * (t1 * m3 - t2 * m2)) / det3 END AS p0,
        CASE WHEN bins >= 4 AND det3 > 1e-9 * m0 * m0 * m0 THEN (m0 * (t1 * m4 - t2 * m3) - t0 * (m1 * m4 - m2 * m3) + m2 * (m1 * t2 - m2 * t1)) / det3 END AS p1,
        CASE WHEN bins >= 4 AND det3 > 1e-9 * m0 * m0 * m0 THEN (m0 * (m2 * t2 - m3 * t1) - m1 * (m1 * t2 - m2 * t1) + t0 * (m1 * m3 - m2 * m2)) / det3 END AS p2
    FROM determinant
),
root AS (
    SELECT grp, pull_no, threshold,
        CASE WHEN p1 > 0 AND p1 * p1 >= 4 * p0 * p2 THEN -2 * p0 / (p1 + sqrt(greatest(p1 * p1 - 4 * p0 * p2, 0))) WHEN l1 > 0 THEN -l0 / l1 ELSE 0 END AS u
    FROM polynomial
),
crossing AS (
    SELECT s.grp, s.pull_no, s.threshold, CASE WHEN s.below_x IS NULL THEN l.lowest_x ELSE greatest(l.min_x, least(l.highest_x, s.x + s.reach * greatest(-1, least(1, coalesce(r.u, 0))))) END AS x,
        CASE WHEN s.below_x IS NULL THEN 1 ELSE 0 END AS at_lowest
    FROM split s
    JOIN lowest l ON l.grp = s.grp
    LEFT JOIN root r ON r.grp = s.grp AND r.pull_no = s.pull_no AND r.threshold = s.threshold
),
jackknife AS (
    SELECT grp, threshold, count(*) AS reached, CASE WHEN count(*) > 1 THEN sqrt((count(*) - 1) * var_pop(x)) END AS se
    FROM crossing
    WHERE pull_no > 0
    GROUP BY grp, threshold
),
answer AS (
    SELECT g.grp, t.threshold, c.x, c.at_lowest, t975(n.n - 1) * j.se AS half, coalesce(j.reached, 0) AS reached, coalesce(n.n, 0) AS n, l.lowest_x, l.min_x, l.highest_bin
    FROM alike g
    CROSS JOIN threshold t
    LEFT JOIN lowest l ON l.grp = g.grp
    LEFT JOIN pulls n ON n.grp = g.grp
    LEFT JOIN crossing c ON c.grp = g.grp AND c.pull_no = 0 AND c.threshold = t.threshold
    LEFT JOIN jackknife j ON j.grp = g.grp AND j.threshold = t.threshold
    WHERE g.pull_no = 1
)
SELECT g.platform, g.vehicle, g.calibration, a.threshold, round(a.x, 1) AS wheel_power_kw,
    CASE WHEN a.at_lowest = 0 AND a.half IS NOT NULL THEN round(greatest(a.x - a.half, a.lowest_x), 1) END AS lo95,
    CASE WHEN a.at_lowest = 0 AND a.reached = a.n AND a.half IS NOT NULL THEN round(least(a.x + a.half, greatest(a.x, a.highest_bin)), 1) END AS hi95,
    a.highest_bin AS highest_power_kw, a.n,
    CASE WHEN a.n = 0 THEN 'no drive ratio: boost was too small to divide by'
        WHEN a.x IS NULL THEN 'not reached'
        WHEN a.at_lowest = 1 THEN 'at or above it from the lowest power measured'
        WHEN a.n = 1 THEN 'one pull: no interval'
        WHEN a.reached < a.n THEN 'not reached without one of the pulls: no upper end'
        WHEN a.x + a.half > a.highest_bin THEN 'upper end cut at the highest power measured' END AS note,
    round(a.min_x, 1) AS ratio_min_kw, coalesce(s.bins, 0) AS spool_up_bins, g.basis AS drive_basis, g.test, g.gear, g.locked, g.left_out, g.left_out_why,
    nullif(trim(g.not_logged), '') AS not_logged, f.flagged
FROM answer a
JOIN alike g ON g.grp = a.grp AND g.pull_no = 1
LEFT JOIN spool s ON s.grp = a.grp
LEFT JOIN flagged f ON f.grp = a.grp
ORDER BY g.platform, g.vehicle, g.calibration, a.threshold
