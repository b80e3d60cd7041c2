-- Statements that must give the same rows on both engines; blank lines part them.

-- Halves are rounded away from zero, after a multiplication by a power of ten.
SELECT t_s, round(t_s) AS a, round(t_s, 1) AS b, round(t_s, 2) AS c, round(t_s, 3) AS d, round(-t_s, 1) AS e, round(t_s, -1) AS f FROM samples ORDER BY t_s

SELECT round(2.5e0) AS a, round(-2.5e0) AS b, round(0.285e0, 2) AS c, round(1.005e0, 2) AS d, round(2.675e0, 2) AS e, round(0.49999999999999994e0) AS f, round(4503599627370497.5e0) AS g, round(1e300, 10) AS h, round(-0.4e0) AS i

SELECT run_id, round(boost_kpa, 1) AS a, round(boost_kpa) AS b, round(boost_kpa, 2) AS c, round(boost_kpa, 0) AS d FROM samples ORDER BY run_id, t_s

SELECT gear, round(t_s, gear) AS a FROM samples WHERE gear IS NOT NULL ORDER BY t_s

SELECT round(1.25, 1) AS a, round(-1.25, 1) AS b, round(1.25) AS c, round(2.5) AS d, round(12345) AS e, round(NULL, 1) AS f

-- Division: of whole numbers to fractions, by 0 to NULL, of single precision in single precision.
SELECT gear, 7 / 2 AS a, 7 / gear AS b, gear / 2 AS c, 1 / (gear - gear) AS d, 1e0 / (gear - gear) AS e, 7 // 2 AS f, -7 // 2 AS g, -7 % 3 AS h, 7 % (gear - gear) AS i, 7 // (gear - gear) AS j FROM samples ORDER BY t_s

SELECT boost_kpa / engine_speed_rpm AS a, boost_kpa * engine_speed_rpm AS b, boost_kpa + 0.1 AS c, boost_kpa * 3 AS d, boost_kpa / 3 AS e, boost_kpa - engine_speed_rpm AS f, boost_kpa * 0.1e0 AS g, boost_kpa / CAST(3 AS DOUBLE) AS h FROM samples ORDER BY t_s

SELECT 0.1 + 0.2 AS a, 0.1 * 0.2 AS b, 1.5 + 1 AS c, 1.0 / 3 AS d, 0.1 + 0.2e0 AS e, (1 + 0.66) / 2 * 3.3e0 AS f, -0.5 AS g, .5 AS h, 5.0 * 2 AS i

SELECT 3000000000 + 1 AS a, 2147483647 AS b, 9223372036854775807 AS c, 100000000000000000000 AS d, 1_000 AS e, 1e3 AS f, -5 - -3 AS g, - (2 - 5) AS h, 2 ^ 10 AS i, 2 ** 3 AS j, -2 ^ 2 AS k

-- NULL.
SELECT vehicle, concat(vehicle, '/', NULL, test) AS a, vehicle || '/' || test AS b, coalesce(vehicle, 'none') AS c, nullif(test, 'sweep') AS d, greatest(baro_kpa, 100, NULL) AS e, least(NULL, ambient_c, 20.5) AS f, greatest(NULL, NULL) AS g FROM runs ORDER BY run_id

SELECT run_id, vehicle = NULL AS a, NULL IS NULL AS b, vehicle IS DISTINCT FROM 'car-a' AS c, vehicle IS NOT DISTINCT FROM NULL AS d, (vehicle = 'car-a') IS TRUE AS e, (vehicle = 'car-a') IS NOT FALSE AS f, NOT (vehicle = 'car-a') AS g, vehicle = 'car-a' OR NULL AS h, vehicle = 'car-a' AND NULL AS i FROM runs ORDER BY run_id

SELECT run_id, vehicle IN ('car-a', 'car-b') AS a, vehicle NOT IN ('car-a') AS b, vehicle IN ('car-a', NULL) AS c, vehicle NOT IN ('car-a', NULL) AS d, rows IN (1, 2, 3000) AS e FROM runs ORDER BY run_id

SELECT run_id, vehicle IN (SELECT r.vehicle FROM runs r WHERE r.vehicle IS NOT NULL AND r.test = 'sweep') AS a, vehicle NOT IN (SELECT r.vehicle FROM runs r WHERE r.test = 'sweep') AS b, vehicle IN (SELECT r.vehicle FROM runs r WHERE false) AS c, vehicle NOT IN (SELECT vehicle FROM runs) AS d FROM runs ORDER BY run_id

SELECT run_id, CASE vehicle WHEN 'car-a' THEN 1 WHEN 'car-b' THEN 2.5 END AS a, CASE WHEN vehicle = 'car-a' THEN 'x' WHEN baro_kpa > 100 THEN 'y' ELSE NULL END AS b, CASE WHEN NULL THEN 1 ELSE 2 END AS c, CASE WHEN ambient_c > 20 THEN 0.0 ELSE ambient_c END AS d, if(ambient_c > 20, 1, 2) AS e FROM runs ORDER BY run_id

SELECT run_id, baro_kpa BETWEEN 99 AND 101 AS a, baro_kpa NOT BETWEEN 99 AND 101 AS b, ambient_c BETWEEN NULL AND 30 AS c FROM runs ORDER BY run_id

-- Order: NULL last both ways, texts by their bytes.
SELECT vehicle, ambient_c FROM runs ORDER BY vehicle, ambient_c DESC

SELECT vehicle, ambient_c FROM runs ORDER BY vehicle DESC, ambient_c

SELECT vehicle AS v, run_id FROM runs ORDER BY v NULLS FIRST, 2 DESC

SELECT operator_note, run_id FROM runs ORDER BY operator_note, run_id LIMIT 4 OFFSET 1

SELECT run_id, -baro_kpa AS minus FROM runs ORDER BY -baro_kpa, run_id

-- Aggregates, with and without rows.
SELECT count(*) AS n, count(vehicle) AS v, count(DISTINCT vehicle) AS d, sum(rows) AS s, sum(baro_kpa) AS f, avg(rows) AS a, avg(ambient_c) AS b, min(vehicle) AS c, max(started_at) AS e, count(DISTINCT test) FILTER (WHERE rows > 1000) AS g, sum(rows) FILTER (WHERE test = 'sweep') AS h FROM runs

SELECT count(*) AS n, sum(rows) AS s, avg(rows) AS a, min(vehicle) AS c, max(1) AS e, avg(1.5) AS g, stddev_samp(rows) AS h, quantile_cont(rows, 0.5) AS i, median(baro_kpa) AS j, sum(CASE WHEN true THEN 1 ELSE 0 END) AS k, var_pop(baro_kpa) AS l, string_agg(vehicle, ', ' ORDER BY vehicle) AS m, bool_and(true) AS o, count_if(true) AS p FROM runs WHERE false

SELECT gear, count(*) AS n, sum(t_s) AS a, avg(boost_kpa) AS b, min(boost_kpa) AS c, max(boost_kpa) - min(boost_kpa) AS d, stddev_samp(boost_kpa) AS e, stddev_pop(t_s) AS f, var_samp(t_s) AS g, var_pop(t_s) AS h, covar_pop(t_s, boost_kpa) AS i, corr(t_s, engine_speed_rpm) AS j, stddev(gear) AS k FROM samples GROUP BY gear ORDER BY gear

SELECT gear, quantile_cont(t_s, 0) AS a, quantile_cont(t_s, 0.05) AS b, quantile_cont(t_s, 0.25) AS c, quantile_cont(t_s, 0.5) AS d, quantile_cont(t_s, 0.9) AS e, quantile_cont(t_s, 1) AS f, median(t_s) AS g, quantile_of(boost_kpa, 0.3) AS h, median_of(boost_kpa) AS i, iqr_of(boost_kpa) AS j, quantile_cont(gear, 0.5) AS k FROM samples GROUP BY gear ORDER BY gear

SELECT quantile_cont(t_s, 0.1) AS a, quantile_cont(t_s, 0.37) AS b, quantile_cont(t_s, 0.99) AS c, quantile_cont(t_s, 1e0 / 3) AS d FROM samples

SELECT bool_and(locked) AS a, bool_or(locked) AS b, min(locked) AS c, max(locked) AS d, count_if(locked) AS e, count(locked) AS f FROM segments

SELECT test, string_agg(vehicle, ', ' ORDER BY vehicle) AS a, string_agg(vehicle, '; ' ORDER BY vehicle DESC) AS b, string_agg(DISTINCT vehicle, ',' ORDER BY vehicle) AS c, joined(vehicle) AS d FROM runs GROUP BY test ORDER BY test

SELECT test, vehicle, count(*) AS n FROM runs GROUP BY ALL ORDER BY test, vehicle

SELECT test, count(*) AS n FROM runs GROUP BY 1 HAVING count(*) > 1 ORDER BY test

SELECT coalesce(vehicle, 'none') AS who, count(*) AS n FROM runs GROUP BY who ORDER BY who

SELECT test, rows AS n, sum(rows) AS rows FROM runs GROUP BY test, rows ORDER BY test, n

SELECT max(count(*)) OVER (PARTITION BY test) AS most, test, vehicle, count(*) AS n FROM runs GROUP BY test, vehicle ORDER BY test, vehicle

-- Windows.
SELECT run_id, t_s, row_number() OVER w AS a, rank() OVER (PARTITION BY run_id ORDER BY gear) AS b, dense_rank() OVER (PARTITION BY run_id ORDER BY gear DESC) AS c, lag(boost_kpa) OVER w AS d, lead(t_s) OVER w AS e, lag(gear, 2) OVER w AS f, lag(gear, 1, 0) OVER w AS g, first_value(boost_kpa) OVER w AS h, last_value(boost_kpa) OVER w AS i, sum(boost_kpa) OVER w AS j, count(gear) OVER (PARTITION BY run_id) AS k, min(boost_kpa) OVER (PARTITION BY run_id ORDER BY t_s ROWS BETWEEN 1 PRECEDING AND 1 FOLLOWING) AS l, avg(t_s) OVER (PARTITION BY run_id ORDER BY t_s ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS m, sum(t_s) OVER (PARTITION BY run_id ORDER BY t_s ROWS BETWEEN 3 PRECEDING AND 2 PRECEDING) AS n FROM samples WINDOW w AS (PARTITION BY run_id ORDER BY t_s) ORDER BY run_id, t_s

SELECT run_id, t_s, quantile_cont(t_s, 0.5) OVER (PARTITION BY run_id) AS a, stddev_samp(t_s) OVER (PARTITION BY run_id ORDER BY t_s) AS b, ntile(3) OVER (PARTITION BY run_id ORDER BY t_s) AS c, percent_rank() OVER (PARTITION BY run_id ORDER BY t_s) AS d, first_value(boost_kpa IGNORE NULLS) OVER (PARTITION BY run_id ORDER BY t_s) AS e, nth_value(t_s, 2) OVER (PARTITION BY run_id ORDER BY t_s) AS f, count(*) FILTER (WHERE gear > 1) OVER (PARTITION BY run_id) AS g FROM samples ORDER BY run_id, t_s

SELECT run_id, t_s, boost_kpa FROM samples QUALIFY row_number() OVER (PARTITION BY run_id ORDER BY boost_kpa DESC, t_s) = 1 ORDER BY run_id

SELECT run_id, t_s, row_number() OVER (PARTITION BY run_id ORDER BY t_s DESC) AS place FROM samples QUALIFY place <= 2 ORDER BY run_id, place

SELECT DISTINCT ON (run_id) run_id, t_s, gear FROM samples ORDER BY run_id, t_s DESC

SELECT DISTINCT gear, boost_kpa > 50 AS much FROM samples ORDER BY gear, much

-- Joins: what is not found is NULL, NULL meets nothing save by IS NOT DISTINCT FROM.
SELECT r.run_id, s.segment_id, s.kind, s.locked FROM runs r LEFT JOIN segments s ON s.run_id = r.run_id AND s.kind = 'pull' ORDER BY r.run_id, s.segment_id

SELECT r.run_id, o.run_id AS other FROM runs r LEFT JOIN runs o ON o.vehicle = r.vehicle AND o.rows < r.rows ORDER BY 1, 2

SELECT r.run_id, o.run_id AS other FROM runs r JOIN runs o ON o.vehicle IS NOT DISTINCT FROM r.vehicle AND (o.started_at < r.started_at OR o.started_at = r.started_at AND o.rows < r.rows) ORDER BY 1, 2

SELECT r.run_id, o.run_id AS other FROM runs r LEFT JOIN runs o ON o.vehicle IS NOT DISTINCT FROM r.vehicle AND o.run_id <> r.run_id ORDER BY 1, 2

SELECT run_id, vehicle, segment_id FROM runs JOIN segments USING (run_id) ORDER BY run_id, segment_id

SELECT * EXCLUDE (engine_version, ingested_at) FROM runs LEFT JOIN (SELECT run_id, count(*) AS n FROM segments GROUP BY run_id) s USING (run_id) ORDER BY run_id

SELECT r.run_id, s.segment_id FROM segments s RIGHT JOIN runs r ON r.run_id = s.run_id ORDER BY r.run_id, s.segment_id

SELECT r.run_id AS a, f.run_id AS b, f.value FROM runs r FULL JOIN findings f ON f.run_id = r.run_id ORDER BY a, b, f.value

SELECT r.run_id, h.share FROM runs r CROSS JOIN (SELECT 0.5 AS share UNION ALL SELECT 0.66 UNION ALL SELECT 1) h ORDER BY r.run_id, h.share

SELECT r.run_id, l.note FROM runs r JOIN limits l ON (l.vehicle IS NULL OR l.vehicle = r.vehicle) AND (l.test IS NULL OR l.test = r.test) ORDER BY r.run_id, l.note

SELECT r.run_id, l.note FROM runs r LEFT JOIN limits l ON l.vehicle = r.vehicle OR l.test = r.test ORDER BY r.run_id, l.note

SELECT a.run_id, b.t_s FROM runs a, samples b WHERE a.run_id = b.run_id AND b.gear = 2 ORDER BY 1, 2

-- Queries within queries.
WITH a AS (SELECT run_id, rows AS n FROM runs), b AS (SELECT run_id, n * 2 AS n FROM a WHERE n > 10), a2 AS (SELECT * FROM b) SELECT a.run_id, a.n, b.n AS m, a2.n AS o FROM a LEFT JOIN b ON b.run_id = a.run_id LEFT JOIN a2 ON a2.run_id = b.run_id ORDER BY a.run_id

WITH runs AS (SELECT run_id, vehicle FROM runs WHERE vehicle IS NOT NULL) SELECT count(*) AS n FROM runs

WITH t(a, b) AS (SELECT 1, 'x' UNION ALL SELECT 2, NULL) SELECT a, b FROM t ORDER BY a

SELECT vehicle, (SELECT max(rows) FROM runs) AS most, rows = (SELECT max(rows) FROM runs) AS is_most FROM runs ORDER BY run_id

SELECT x.n, x.v FROM (SELECT vehicle AS v, count(*) AS n FROM runs GROUP BY vehicle) x WHERE x.n > 0 ORDER BY x.n, x.v

SELECT v, count(*) AS n FROM (SELECT vehicle AS v FROM runs UNION ALL SELECT run_id AS v FROM segments UNION ALL SELECT NULL) u GROUP BY v ORDER BY v

SELECT 1 AS a, NULL AS b UNION ALL SELECT 2.5, 'x' UNION ALL SELECT NULL, NULL ORDER BY a

SELECT 1 AS a UNION SELECT 1 UNION SELECT 2 ORDER BY a DESC

(SELECT run_id FROM runs ORDER BY run_id LIMIT 1) UNION ALL (SELECT run_id FROM runs ORDER BY run_id DESC LIMIT 1) ORDER BY run_id

SELECT a, b FROM (VALUES (1, 'x'), (2, NULL), (3, 'z')) v(a, b) ORDER BY a

FROM runs SELECT run_id WHERE rows > 5 ORDER BY run_id

-- Names: a column is meant before an alias of the same name, and letters' case does not matter.
SELECT baro_kpa * 2 AS ambient_c, ambient_c + 1 AS baro_kpa FROM runs WHERE ambient_c > 10 ORDER BY run_id

SELECT run_id, rows * 2 AS twice, twice + 1 AS more FROM runs WHERE twice > 10 ORDER BY run_id

SELECT RUN_ID, "Vehicle" FROM Runs R WHERE r.TEST = 'sweep' ORDER BY Run_Id

SELECT run_id AS "select", vehicle AS "it's `quoted`" FROM runs ORDER BY "select"

-- Texts.
SELECT operator_note, length(operator_note) AS a, upper(operator_note) AS b, lower(operator_note) AS c, trim(operator_note) AS d, ltrim(operator_note) AS e, rtrim(operator_note, '; ') AS f, trim(operator_note, '" ') AS g, replace(operator_note, 'a', 'b') AS h, substring(operator_note, 2, 3) AS i, substr(operator_note, 3) AS j, left(operator_note, 2) AS k, right(operator_note, 2) AS l FROM runs ORDER BY run_id

SELECT operator_note, starts_with(operator_note, 'a') AS a, ends_with(operator_note, '; ') AS b, contains(operator_note, '%') AS c, split_part(operator_note, ' ', 2) AS d, operator_note LIKE 'a%' AS e, operator_note LIKE '%\%' AS f, operator_note LIKE '_b%' AS g, operator_note ILIKE 'A%' AS h, operator_note NOT LIKE '%;%' AS i FROM runs ORDER BY run_id

SELECT 'it''s' AS a, 'back\slash' AS b, 'line
break' AS c, 'tab	' AS d, '$x -- /* */' AS e, 'größe' AS f, '' AS g

SELECT concat('n ', 5, ' ', true, ' ', vehicle) AS a, 1 || 'x' AS b, CAST(rows AS VARCHAR) AS c, CAST(rows > 5 AS VARCHAR) AS d, CAST(CAST(started_at AS DATE) AS VARCHAR) AS e FROM runs ORDER BY run_id

-- Casts.
SELECT CAST(2.5e0 AS INTEGER) AS a, CAST(3.5e0 AS BIGINT) AS b, CAST(-2.5e0 AS INTEGER) AS c, CAST('12' AS INTEGER) AS d, CAST(' 1.5 ' AS DOUBLE) AS e, TRY_CAST('x' AS DOUBLE) AS f, CAST(NULL AS DOUBLE) AS g, CAST(1 AS DOUBLE) AS h, 5::BIGINT AS i, CAST(true AS INTEGER) AS j, CAST(0 AS BOOLEAN) AS k, CAST(0.1 AS FLOAT) AS l, CAST(0.1e0 AS FLOAT) AS m, CAST(1 AS DECIMAL(9, 2)) AS n

-- Times.
SELECT run_id, started_at, CAST(started_at AS DATE) AS a, day_of(started_at) AS b, started_at >= '2026-03-01' AS c, started_at < CAST('2026-03-05T10:00:00Z' AS TIMESTAMPTZ) AS d, day_of(started_at) - DATE '2026-01-01' AS e, day_of(started_at) + 1 AS f, year(started_at) AS g, month(started_at) AS h, hour(started_at) AS i, epoch(started_at) AS j, day_of(started_at) = '2026-03-04' AS k FROM runs ORDER BY run_id

SELECT run_id, date_trunc('month', started_at) AS a, date_trunc('day', started_at) AS b, date_trunc('hour', started_at) AS c, date_trunc('week', day_of(started_at)) AS d, date_trunc('year', day_of(started_at)) AS e, instant('2026-03-04T10:00:00+02:00') AS f FROM runs ORDER BY run_id

SELECT day_of(started_at) AS d, count(*) AS n, day_of(started_at) - min(day_of(started_at)) OVER () AS since FROM runs GROUP BY day_of(started_at) ORDER BY d

-- Lists.
SELECT numbers('1.0, 1.5,,2') AS a, words(' a, b ,,c') AS b, len(numbers('1,2')) AS c, [1, 2, 3][2] AS d, [1, 2][5] AS e, list_contains([1, 2], 2) AS f, list_transform([1, 2], lambda x: x * 2) AS g, list_filter([1, 2, 3], lambda x: x > 1) AS h, len(string_split('a-b-c', '-')) AS i

SELECT each_of([1.0e0, 1.2e0, 2.0e0]) AS threshold

SELECT t.x, count(*) AS n FROM (SELECT each_of(numbers('1,2,2')) AS x) t GROUP BY t.x ORDER BY t.x

-- Functions of numbers, and the macros.
SELECT t_s, abs(-t_s) AS a, floor(t_s) AS b, ceil(-t_s) AS c, sqrt(t_s) AS d, exp(t_s / 10) AS e, ln(t_s + 1) AS f, log10(t_s + 1) AS g, pow(t_s, 2) AS h, sign(t_s - 2) AS i, floor(gear) AS j, floor(boost_kpa) AS k, abs(gear) AS l, mod(gear, 2) AS m FROM samples ORDER BY t_s

SELECT t_s, bin_mid(t_s, 0.5) AS a, bin_of(t_s, 0, 5, 10) AS b, kpa_to_psi(boost_kpa) AS c, c_to_f(t_s) AS d, kw_to_hp(t_s) AS e, t975(gear) AS f, welch_half(t_s, gear, 2 * t_s, 4) AS g, welch_df(t_s, gear, 2 * t_s, 4) AS h, verdict_of(t_s - 2, t_s - 1) AS i, bin_mid(boost_kpa, 10) AS j, g_s_to_lb_min(boost_kpa) AS k, psi_to_kpa(gear) AS l FROM samples ORDER BY t_s

SELECT vehicle, round(avg(duration_s), 1) AS s, round(stddev_samp(duration_s) / avg(duration_s), 4) AS spread FROM runs GROUP BY vehicle ORDER BY vehicle

-- Columns without a name of their own are called as DuckDB calls them, and lists of the views can be NULL.
SELECT count(*), sum(r.rows), max(r.rows) - min(rows), count(DISTINCT vehicle), 1 + 2, 'a', coalesce(rows, 1), r.vehicle, rows <> 1, round(rows, 1) FROM runs r GROUP BY rows, vehicle ORDER BY rows, vehicle

SELECT id, gear_ratios, gear_ratios[2] AS second, len(gear_ratios) AS n FROM vehicles ORDER BY id

WITH v AS (SELECT id, gear_ratios AS g FROM vehicles) SELECT id, g FROM v WHERE g[1] IS NULL OR g[1] > 3 ORDER BY id

-- More of times, patterns and groups.
SELECT run_id, extract(year FROM started_at) AS a, date_part('dow', started_at) AS b, week(started_at) AS c, dayofyear(started_at) AS d, second(started_at) AS e, isodow(day_of(started_at)) AS f, hour(day_of(started_at)) AS g, extract(epoch FROM day_of(started_at)) AS h, date_diff('day', started_at, instant('2026-06-01T00:00:00Z')) AS i, date_diff('month', day_of(started_at), DATE '2026-06-01') AS j, date_diff('hour', started_at, instant('2026-06-01T00:00:00Z')) AS k, strftime(started_at, '%Y-%m-%d %H:%M:%S %j 100%%') AS l FROM runs ORDER BY run_id

SELECT run_id, started_at + INTERVAL 1 day AS a, started_at - INTERVAL '2 hours' AS b, day_of(started_at) + INTERVAL 1 month AS c, INTERVAL 90 minutes + started_at AS d, started_at >= DATE '2026-03-05' - INTERVAL 2 days AS e, DATE '2024-02-29' + INTERVAL 1 year AS f FROM runs ORDER BY run_id

SELECT operator_note, regexp_matches(operator_note, '^a.*[;]') AS a, regexp_extract(operator_note, '[0-9]+') AS b, regexp_replace(operator_note, 'a(.)', '<\1>') AS c, regexp_matches(operator_note, '\\') AS d FROM runs ORDER BY ALL

SELECT test, arg_max(run_id, rows) AS a, arg_min(run_id, rows) AS b, max_by(duration_s, rows) AS c, any_value(test) AS d FROM runs GROUP BY test ORDER BY ALL DESC

SELECT isnan(t_s) AS a, isfinite(boost_kpa) AS b, trunc(-t_s) AS c, trunc(boost_kpa) AS d, cbrt(t_s) AS e, nullif(gear, 2.5) AS f, nullif(2, 2.0) AS g FROM samples ORDER BY t_s

SELECT vehicle, count(boost_kpa) AS n, round(max(boost_kpa), 1) AS highest_boost_kpa, round(max(engine_speed_rpm)) AS highest_rpm FROM samples JOIN runs USING (run_id) GROUP BY vehicle ORDER BY vehicle

-- Every other function by each of its names.
SELECT t_s, acos(t_s / 10) AS a, asin(t_s / 10) AS b, atan(t_s) AS c, atan2(t_s, 2) AS d, sin(t_s) AS e, cos(t_s) AS f, tan(t_s) AS g, radians(t_s) AS h, degrees(t_s) AS i, pi() AS j, log(t_s + 1) AS k, log2(t_s + 1) AS l, power(t_s, 3) AS m, ceiling(t_s) AS n, isinf(t_s) AS o, ifnull(gear, 0) AS p, ceil(gear) AS q, ceil(1.25) AS r, floor(-1.25) AS s, sign(boost_kpa - 50) AS t, abs(-1.25) AS u FROM samples ORDER BY t_s

SELECT run_id, char_length(operator_note) AS a, character_length(operator_note) AS b, lcase(operator_note) AS c, ucase(vehicle) AS d, prefix(operator_note, 'a') AS e, suffix(operator_note, ' ') AS f, day(started_at) AS g, dayofmonth(day_of(started_at)) AS h, dayofweek(started_at) AS i, minute(started_at) AS j, quarter(started_at) AS k, datepart('month', started_at) AS l, datetrunc('quarter', started_at) AS m, datediff('minute', started_at, instant('2026-06-01T00:00:00Z')) AS n, date_diff('year', started_at, instant('2026-06-01T00:00:00Z')) AS o, date_diff('quarter', started_at, instant('2026-06-01T00:00:00Z')) AS p, date_diff('second', started_at, instant('2026-06-01T00:00:00Z')) AS q, date_trunc('minute', started_at) AS r, date_part('quarter', day_of(started_at)) AS s FROM runs ORDER BY run_id

SELECT test, countif(rows > 10) AS a, covar_samp(rows, duration_s) AS b, mean(rows) AS c, min_by(run_id, rows) AS d, variance(rows) AS e, arbitrary(test) AS f, listagg(vehicle, '+' ORDER BY vehicle) AS g, group_concat(vehicle, '+' ORDER BY vehicle) AS h, stddev_pop(rows) AS i, string_agg(vehicle ORDER BY vehicle) AS j FROM runs GROUP BY test ORDER BY test

SELECT run_id, t_s, rank_dense() OVER (PARTITION BY run_id ORDER BY gear) AS a, cume_dist() OVER (PARTITION BY run_id ORDER BY gear) AS b, last_value(gear) OVER (PARTITION BY run_id ORDER BY t_s ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING) AS c, lead(t_s, 1, -1) OVER (PARTITION BY run_id ORDER BY t_s) AS d, bool_or(gear > 2) OVER (PARTITION BY run_id ORDER BY t_s) AS e, max(t_s) FILTER (WHERE gear = 1) OVER (PARTITION BY run_id) AS f FROM samples ORDER BY run_id, t_s

SELECT array_contains([1, 2], 3) AS a, list_has(['x', 'y'], 'y') AS b, array_filter([1.5e0, 2.5e0], lambda x: x > 2) AS c, array_transform(['a', 'b'], lambda x: x || '!') AS d, list_apply([1, 2], lambda x: x + 0.5) AS e, str_split('a,b', ',') AS f, string_to_array('a b', ' ') AS g, [] AS h, [NULL, 1] AS i, contains([1, 2], 2) AS j

SELECT unnest([3, 1, NULL, 2]) AS x ORDER BY x

SELECT now() > instant('2020-01-01T00:00:00Z') AS a, current_date >= DATE '2020-01-01' AS b, today() - current_date AS c, current_timestamp - INTERVAL 1 day < now() AS d, count(*) AS n FROM runs WHERE started_at > now() - INTERVAL 100 years
