-- Peaks. From alike come the group's median curves over engine speed; a running median over three bins finds where each is
-- highest, and a parabola fitted to the bins around it (10 % of the speed each way, at least 175 rpm, and values within 7 %
-- of the top, which keeps a governor's cut-off out) gives the peak, so that it is neither the highest noise nor bound to a bin.
-- It may lie up to the end of the outermost bin, as far as that one's rows reach.
speed_bin AS (
    SELECT a.grp, c.bin, avg(CAST(c.engine_speed_rpm AS DOUBLE)) AS rpm, quantile_of(c.wheel_power_kw, 0.5) AS power_kw, quantile_of(c.torque_nm, 0.5) AS torque_nm, count(*) AS n
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'engine_speed_rpm'
    WHERE c.torque_nm IS NOT NULL AND c.wheel_power_kw IS NOT NULL
    GROUP BY a.grp, c.bin
),
quantity_bin AS (
    SELECT grp, 'power' AS quantity, bin, coalesce(rpm, bin) AS rpm, power_kw AS y, n FROM speed_bin
    UNION ALL
    SELECT grp, 'torque' AS quantity, bin, coalesce(rpm, bin) AS rpm, torque_nm AS y, n FROM speed_bin
),
numbered AS (
    SELECT *, row_number() OVER (PARTITION BY grp, quantity ORDER BY bin) AS place FROM quantity_bin
),
running AS (
    SELECT b.grp, b.quantity, b.rpm, quantile_of(o.y, 0.5) AS y
    FROM numbered b
    JOIN numbered o ON o.grp = b.grp AND o.quantity = b.quantity AND o.place BETWEEN b.place - 1 AND b.place + 1
    GROUP BY b.grp, b.quantity, b.rpm
),
running_place AS (
    SELECT *, row_number() OVER (PARTITION BY grp, quantity ORDER BY y DESC, rpm) AS place FROM running
),
crest AS (
    SELECT grp, quantity, rpm AS top_rpm, y AS top_y, greatest(175, 0.1 * rpm) AS reach FROM running_place WHERE place = 1
),
near AS (
    SELECT t.grp, t.quantity, t.top_rpm, t.top_y, t.reach, (b.rpm - t.top_rpm) / t.reach AS u, b.y, b.n, row_number() OVER (PARTITION BY t.grp, t.quantity ORDER BY b.y DESC, b.rpm) AS place,
        (greatest(b.bin - 25, 2 * b.rpm - b.bin - 25) - t.top_rpm) / t.reach AS u_from, (least(b.bin + 25, 2 * b.rpm - b.bin + 25) - t.top_rpm) / t.reach AS u_to
    FROM crest t
    JOIN quantity_bin b ON b.grp = t.grp AND b.quantity = t.quantity AND abs(b.rpm - t.top_rpm) <= t.reach AND b.y BETWEEN 0.93 * t.top_y AND 1.05 * t.top_y
),
moment AS (
    SELECT grp, quantity, top_rpm, top_y, reach, count(*) AS bins, min(u_from) AS u_lo, max(u_to) AS u_hi, max(y) AS y_hi, max(CASE WHEN place = 1 THEN u END) AS y_hi_u,
        sum(n) AS m0, sum(n * u) AS m1, sum(n * u * u) AS m2, sum(n * u * u * u) AS m3, sum(n * u * u * u * u) AS m4,
        sum(n * y) AS t0, sum(n * u * y) AS t1, sum(n * u * u * y) AS t2
    FROM near
    GROUP BY grp, quantity, top_rpm, top_y, reach
),
determinant AS (
    SELECT *, m0 * (m2 * m4 - m3 * m3) - m1 * (m1 * m4 - m2 * m3) + m2 * (m1 * m3 - m2 * m2) AS det FROM moment
),
parabola AS (
    SELECT *,
        (t0 * (m2 * m4 - m3 * m3) - m1 * (t1 * m4 - t2 * m3) + m2 * (t1 * m3 - t2 * m2)) / det AS p0,
        (m0 * (t1 * m4 - t2 * m3) - t0 * (m1 * m4 - m2 * m3) + m2 * (m1 * t2 - m2 * t1)) / det AS p1,
        (m0 * (m2 * t2 - m3 * t1) - m1 * (m1 * t2 - m2 * t1) + t0 * (m1 * m3 - m2 * m2)) / det AS p2
    FROM determinant
    WHERE bins >= 4 AND det > 1e-9 * m0 * m0 * m0
),
vertex AS (
    SELECT *, CASE WHEN p2 < 0 THEN greatest(u_lo, least(u_hi, -p1 / (2 * p2))) WHEN p1 > 0 THEN u_hi ELSE u_lo END AS u FROM parabola
),
summit AS (
    SELECT t.grp, t.quantity, t.top_rpm + t.reach * coalesce(v.u, m.y_hi_u, 0) AS rpm, coalesce(v.p0 + v.p1 * v.u + v.p2 * v.u * v.u, m.y_hi, t.top_y) AS y
    FROM crest t
    LEFT JOIN moment m ON m.grp = t.grp AND m.quantity = t.quantity
    LEFT JOIN vertex v ON v.grp = t.grp AND v.quantity = t.quantity
),
peak AS (
    SELECT p.grp, p.y AS peak_power_kw, p.rpm AS at_rpm, t.y AS peak_torque_nm, t.rpm AS at_rpm_torque
    FROM summit p
    JOIN summit t ON t.grp = p.grp AND t.quantity = 'torque'
    WHERE p.quantity = 'power'
),
