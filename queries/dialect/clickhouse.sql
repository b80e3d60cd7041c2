-- The macros that ClickHouse spells otherwise than DuckDB: the same names and arguments as in the engine's file of macros, where each has its
-- definition for DuckDB. A macro that is not here is made from that definition. The line before each says what type it gives.

-- gives DOUBLE of a group
CREATE FUNCTION quantile_of AS (x, p) -> arrayMap(v -> if(length(v) = 0, NULL, v[toInt64(floor((length(v) - 1) * p)) + 1] * (1. - ((length(v) - 1) * p - floor((length(v) - 1) * p))) + v[toInt64(ceil((length(v) - 1) * p)) + 1] * ((length(v) - 1) * p - floor((length(v) - 1) * p))), [arraySort(groupArray(toFloat64(x)))])[1];

-- gives DOUBLE[]
CREATE FUNCTION numbers AS (list) -> arrayMap(s -> toNullable(toFloat64(trimBoth(s))), arrayFilter(s -> trimBoth(s) <> '', splitByChar(',', ifNull(list, ''))));

-- gives VARCHAR[]
CREATE FUNCTION words AS (list) -> arrayMap(s -> toNullable(trimBoth(s)), arrayFilter(s -> trimBoth(s) <> '', splitByChar(',', ifNull(list, ''))));

-- gives TIMESTAMP WITH TIME ZONE
CREATE FUNCTION instant AS (text) -> parseDateTime64BestEffort(text, 6, 'UTC');

-- gives DATE
CREATE FUNCTION day_of AS (t) -> toDate32(t, 'UTC');

-- gives VARCHAR of a group
CREATE FUNCTION joined AS (x) -> arrayMap(v -> if(length(v) = 0, NULL, arrayStringConcat(v, ', ')), [arraySort(groupArray(x))])[1];
