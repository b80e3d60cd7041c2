-- title: How the filter loads up
-- question: How does the particulate filter's resistance at one and the same flow go up from day to day, and what do regenerations take off it?
-- apart: platform, vehicle
-- param flow: number, null, m³/s, the exhaust's volume flow at which filters are compared (null: each vehicle's median)
-- param flow_within: number, 0.35, 1, bins whose flow lies within this share of it are used
-- param vehicle: text, null, -, only this vehicle
-- param platform: text, null, -, only this platform
-- column vehicle: -, the vehicle
-- column date: -, the day (UTC)
-- column dpf_resist: kPa per m³/s, resistance of the filter to volume flow at the reference flow: the median over the day's pulls; a day's pulls before and after a regeneration are two rows
-- column regens: 1, regenerations since the row before
-- column n: 1, pulls
-- column sd: kPa per m³/s, standard deviation over the pulls; NULL for one pull
-- column flow_m3_s: m³/s, the reference flow
-- column dpf_delta_kpa: kPa, the pressure loss that it means at that flow
-- column days: d, days since the vehicle's first row
-- column soot_g: g, median over pulls of the soot mass that the controller reckons; NULL where not logged
-- column left_out: 1, pulls of the vehicle without a date or without bins near the reference flow
-- column platform: -, the vehicle's platform
-- column note: -, where the resistance fell by a fifth or more and no regeneration is on record: one between the logs, or work on the filter or its sensor
-- plot: line x=date y=dpf_resist by=platform,vehicle; line x=date y=dpf_delta_kpa by=platform,vehicle limit=dpf_delta_kpa
WITH flowing AS (
    SELECT c.run_id, c.segment_id, r.platform, r.vehicle, r.started_at, day_of(r.started_at) AS day, coalesce(s.t0_s, 0) AS t0_s,
        CAST(c.dpf_resist AS DOUBLE) AS y, CAST(c.dpf_delta_kpa AS DOUBLE) / CAST(c.dpf_resist AS DOUBLE) AS flow, CAST(c.soot_g AS DOUBLE) AS soot
    FROM curves c
    JOIN runs r ON r.run_id = c.run_id
    JOIN segments s ON s.run_id = c.run_id AND s.segment_id = c.segment_id AND s.kind = 'pull'
    WHERE c.axis = 'engine_speed_rpm' AND c.dpf_resist > 0 AND c.dpf_delta_kpa > 0 AND coalesce(c.regen_frac, 0) < 0.5 AND r.vehicle IS NOT NULL
        AND ($vehicle IS NULL OR r.vehicle = $vehicle)
        AND ($platform IS NULL OR r.platform = $platform)
),
reference AS (
    SELECT platform, vehicle, coalesce($flow, quantile_of(flow, 0.5)) AS flow, count(DISTINCT run_id || '/' || CAST(segment_id AS VARCHAR)) AS pulls FROM flowing GROUP BY platform, vehicle
),
near AS (
    SELECT f.*, (f.flow - r.flow) / r.flow AS u, r.flow AS at_flow
    FROM flowing f
    JOIN reference r ON r.vehicle = f.vehicle AND r.platform IS NOT DISTINCT FROM f.platform
    WHERE f.day IS NOT NULL AND abs(f.flow - r.flow) <= $flow_within * r.flow
),
moment AS ( -- A line through each pull's bins gives its resistance at the reference flow.
    SELECT platform, vehicle, day, started_at, t0_s, run_id, segment_id, at_flow, count(*) AS m, sum(u) AS su, sum(u * u) AS suu, sum(y) AS sy, sum(u * y) AS suy, min(u) AS u_lo, max(u) AS u_hi, quantile_of(soot, 0.5) AS soot
    FROM near
    GROUP BY platform, vehicle, day, started_at, t0_s, run_id, segment_id, at_flow
),
resist AS (
    SELECT *, CASE WHEN m >= 3 AND u_lo < 0 AND u_hi > 0 AND m * suu - su * su > 1e-6 * m * m THEN (sy * suu - su * suy) / (m * suu - su * su) ELSE sy / m END AS y FROM moment
),
regen AS ( -- t0_s in whole seconds after the run's start tells what came first.
    SELECT r.vehicle, r.platform, r.started_at, s.t0_s
    FROM segments s
    JOIN runs r ON r.run_id = s.run_id
    WHERE s.kind = 'regen' AND r.started_at IS NOT NULL
),
since AS (
    SELECT p.platform, p.vehicle, p.run_id, p.segment_id, count(g.started_at) AS regens
    FROM resist p
    LEFT JOIN regen g ON g.vehicle = p.vehicle AND g.platform IS NOT DISTINCT FROM p.platform AND (g.started_at < p.started_at OR g.started_at = p.started_at AND g.t0_s < p.t0_s)
    GROUP BY p.platform, p.vehicle, p.run_id, p.segment_id
),
daily AS (
    SELECT p.platform, p.vehicle, p.day, s.regens, p.at_flow, quantile_of(p.y, 0.5) AS y, CASE WHEN count(*) > 1 THEN stddev_samp(p.y) END AS sd, count(*) AS n, quantile_of(p.soot, 0.5) AS soot
    FROM resist p
    JOIN since s ON s.vehicle = p.vehicle AND s.platform IS NOT DISTINCT FROM p.platform AND s.run_id = p.run_id AND s.segment_id = p.segment_id
    GROUP BY p.platform, p.vehicle, p.day, s.regens, p.at_flow
),
answer AS (
    SELECT *, regens - lag(regens) OVER w AS since_last, lag(y) OVER w AS before, sum(n) OVER (PARTITION BY platform, vehicle) AS used, day - min(day) OVER (PARTITION BY platform, vehicle) AS days
    FROM daily
    WINDOW w AS (PARTITION BY platform, vehicle ORDER BY day, regens)
)
SELECT a.vehicle, a.day AS date, round(a.y, 2) AS dpf_resist, coalesce(a.since_last, 0) AS regens, a.n, round(a.sd, 2) AS sd, round(a.at_flow, 4) AS flow_m3_s, round(a.y * a.at_flow, 3) AS dpf_delta_kpa,
    a.days, round(a.soot, 2) AS soot_g, CAST(r.pulls - a.used AS BIGINT) AS left_out, a.platform,
    CASE WHEN a.since_last = 0 AND a.y <= 0.8 * a.before THEN 'fell without a regeneration on record' END AS note
FROM answer a
JOIN reference r ON r.vehicle = a.vehicle AND r.platform IS NOT DISTINCT FROM a.platform
ORDER BY a.platform, a.vehicle, a.day, a.regens
