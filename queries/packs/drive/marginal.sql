-- title: What the next kPa of boost costs
-- question: How much net drive pressure does each further kPa of boost take as power rises, and from which power on does it take more?
-- apart: platform, vehicle
-- param spool_share: number, 0.5, 1, what lies below the power where boost reaches this share of its highest is spool-up and left out
-- param bend_least: number, 12, 1, how much better (as F) bent lines must fit than straight ones for a knee to be told
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column wheel_power_kw: kW, the power bin's middle (bins of 5)
-- column marginal_ratio: 1, net drive spent per kPa of boost gained, from lines through five bins; NULL where boost hardly rises
-- column knee: -, true in the bin where it bends: where lines of boost and of net drive over power that bend together fit best
-- column n: 1, pulls in the bin
-- column boost_kpa: kPa, median over pulls of the bin's mean boost
-- column net_drive_kpa: kPa, median over pulls of the bin's mean net drive pressure
-- column knee_power_kw: kW, power of the knee, to a fifth of a bin; NULL where there is none
-- column ratio_below: 1, net drive per kPa of boost along the lines below the knee
-- column ratio_above: 1, the same above it; NULL where boost hardly rises any more
-- column spool_up_bins: 1, power bins left out as spool-up
-- column drive_basis: -, what net drive stands on: outlet or system
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column flagged_n: 1, pulls used that a rule doubts; torque/peak and quality/repeat name them
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- plot: line x=wheel_power_kw y=marginal_ratio by=platform,vehicle,calibration; line x=boost_kpa y=net_drive_kpa by=platform,vehicle,calibration reference=1:1
WITH
-- include: on_basis
-- include: alike
middle AS (
    SELECT a.grp, c.bin, avg(CAST(coalesce(c.wheel_power_kw, c.bin) AS DOUBLE)) AS x, quantile_of(c.boost_kpa, 0.5) AS b, quantile_of(c.net_drive_kpa, 0.5) AS d, count(*) AS n
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'wheel_power_kw' AND c.drive_basis = a.basis
    WHERE c.net_drive_kpa IS NOT NULL AND c.boost_kpa IS NOT NULL
    GROUP BY a.grp, c.bin
),
risen AS (
    SELECT *, max(b) OVER (PARTITION BY grp) AS most, min(CASE WHEN b >= 35 THEN bin END) OVER (PARTITION BY grp) AS divisible FROM middle
),
start AS (
    SELECT grp, min(bin) AS bin FROM risen WHERE b >= $spool_share * most AND bin >= divisible GROUP BY grp
),
spool AS (
    SELECT s.grp, count(m.bin) AS bins FROM start s LEFT JOIN middle m ON m.grp = s.grp AND m.bin < s.bin GROUP BY s.grp
),
used AS (
    SELECT m.*, row_number() OVER (PARTITION BY m.grp ORDER BY m.bin) AS place, count(*) OVER (PARTITION BY m.grp) AS bins
    FROM middle m
    JOIN start s ON s.grp = m.grp AND m.bin >= s.bin
),
window_sum AS (
    SELECT u.grp, u.bin, count(*) AS m, max(o.x) - min(o.x) AS reach, sum(o.n) AS w, sum(o.n * (o.x - u.x)) AS sx, sum(o.n * (o.x - u.x) * (o.x - u.x)) AS sxx,
        sum(o.n * o.b) AS sb, sum(o.n * (o.x - u.x) * o.b) AS sxb, sum(o.n * o.d) AS sd, sum(o.n * (o.x - u.x) * o.d) AS sxd
    FROM used u
    JOIN used o ON o.grp = u.grp AND o.place BETWEEN u.place - 2 AND u.place + 2
    GROUP BY u.grp, u.bin
),
slope AS (
    SELECT grp, bin, m, reach, (w * sxb - sx * sb) / (w * sxx - sx * sx) AS boost_slope, (w * sxd - sx * sd) / (w * sxx - sx * sx) AS drive_slope
    FROM window_sum
    WHERE m >= 3 AND w * sxx - sx * sx > 1e-6 * w * w
),
next AS (
    SELECT *, lead(x) OVER (PARTITION BY grp ORDER BY place) - x AS step FROM used
),
trial AS ( -- Five places a bin, the outermost bins left out.
    SELECT n.grp, n.place * 5 + t.fifth AS place, n.x + n.step * t.fifth / 5.0 AS x
    FROM next n
    CROSS JOIN (SELECT 0 AS fifth UNION ALL SELECT 1 UNION ALL SELECT 2 UNION ALL SELECT 3 UNION ALL SELECT 4) t
    WHERE n.place > 2 AND n.place < n.bins - 1
),
bent AS ( -- Boost and net drive over power, each a line that bends at the same place.
    SELECT k.grp, k.place, k.x AS knee_x, o.n AS w, o.x, o.b, o.d, greatest(o.x - k.x, 0) AS h
    FROM trial k
    JOIN used o ON o.grp = k.grp
),
bent_mean AS (
    SELECT *, sum(w * x) OVER v / sum(w) OVER v AS mx, sum(w * b) OVER v / sum(w) OVER v AS mb, sum(w * d) OVER v / sum(w) OVER v AS md, sum(w * h) OVER v / sum(w) OVER v AS mh
    FROM bent
    WINDOW v AS (PARTITION BY grp, place)
),
bent_sum AS (
    SELECT grp, place, knee_x AS x, count(*) AS m, sum(w * (x - mx) * (x - mx)) AS xx, sum(w * (x - mx) * (h - mh)) AS xh, sum(w * (h - mh) * (h - mh)) AS hh,
        sum(w * (x - mx) * (b - mb)) AS xb, sum(w * (h - mh) * (b - mb)) AS hb, sum(w * (b - mb) * (b - mb)) AS bb,
        sum(w * (x - mx) * (d - md)) AS xd, sum(w * (h - mh) * (d - md)) AS hd, sum(w * (d - md) * (d - md)) AS dd
    FROM bent_mean
    GROUP BY grp, place, knee_x
),
bent_fit AS (
    SELECT grp, place, x, m, (xb * hh - hb * xh) / det AS b1, (hb * xx - xb * xh) / det AS b2, (xd * hh - hd * xh) / det AS d1, (hd * xx - xd * xh) / det AS d2,
        bb + dd - (xb * xb + xd * xd) / xx AS straight_sse,
        greatest(bb + dd - ((xb * xb + xd * xd) * hh - 2 * (xb * hb + xd * hd) * xh + (hb * hb + hd * hd) * xx) / det, 0) AS sse
    FROM (SELECT *, xx * hh - xh * xh AS det FROM bent_sum) s
    WHERE xx > 0 AND det > 1e-9 * xx * hh
),
bent_place AS (
    SELECT *, row_number() OVER (PARTITION BY grp ORDER BY sse, place) AS best FROM bent_fit
),
knee AS ( -- Only where the cost of boost rises.
    SELECT grp, x
    FROM bent_place
    WHERE best = 1 AND m >= 6 AND b1 > 0 AND d1 + d2 > 0 AND (straight_sse - sse) * (2 * m - 7) >= $bend_least * 3 * sse AND straight_sse > 1e-9
        AND (b1 + b2 <= 0.1 * b1 OR (d1 + d2) / (b1 + b2) >= d1 / b1 + 0.1)
),
beside AS ( -- What boost costs on either side of the knee.
    SELECT k.grp, k.x, covar_pop(CASE WHEN u.x <= k.x THEN u.x END, CASE WHEN u.x <= k.x THEN u.d END) / covar_pop(CASE WHEN u.x <= k.x THEN u.x END, CASE WHEN u.x <= k.x THEN u.b END) AS below,
        CASE WHEN covar_pop(CASE WHEN u.x > k.x THEN u.x END, CASE WHEN u.x > k.x THEN u.b END) > 0.02 * var_pop(CASE WHEN u.x > k.x THEN u.x END)
            THEN covar_pop(CASE WHEN u.x > k.x THEN u.x END, CASE WHEN u.x > k.x THEN u.d END) / covar_pop(CASE WHEN u.x > k.x THEN u.x END, CASE WHEN u.x > k.x THEN u.b END) END AS above
    FROM knee k
    JOIN used u ON u.grp = k.grp
    GROUP BY k.grp, k.x
)
SELECT g.platform, g.vehicle, g.calibration, u.bin AS wheel_power_kw, round(CASE WHEN s.boost_slope * s.reach >= 2 THEN s.drive_slope / s.boost_slope END, 3) AS marginal_ratio,
    coalesce(u.bin = bin_mid(k.x, 5), false) AS knee, u.n, round(u.b, 2) AS boost_kpa, round(u.d, 2) AS net_drive_kpa, round(k.x, 1) AS knee_power_kw,
    round(k.below, 3) AS ratio_below, round(k.above, 3) AS ratio_above, coalesce(p.bins, 0) AS spool_up_bins,
    g.basis AS drive_basis, g.test, g.gear, g.locked, g.left_out, g.left_out_why, g.flagged_n, nullif(trim(g.not_logged), '') AS not_logged
FROM used u
JOIN alike g ON g.grp = u.grp AND g.pull_no = 1
LEFT JOIN slope s ON s.grp = u.grp AND s.bin = u.bin
LEFT JOIN beside k ON k.grp = u.grp
LEFT JOIN spool p ON p.grp = u.grp
ORDER BY g.platform, g.vehicle, g.calibration, u.bin
