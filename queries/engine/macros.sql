-- The functions by which the queries are spelled the same on every engine. Each has one definition here; another engine
-- brings its own file of the same names.

-- The middle of the bin of the given width that x falls into; a bin holds its lower edge.
CREATE MACRO bin_mid(x, width) AS (floor(x / width) + 0.5) * width;

-- The middle of the bin that x falls into, of n bins of one width from lo to hi; hi itself is in the last, what lies outside is NULL.
CREATE MACRO bin_of(x, lo, hi, n) AS CASE WHEN x BETWEEN lo AND hi AND hi > lo THEN lo + (least(floor((x - lo) * n / (hi - lo)), n - 1) + 0.5) * (hi - lo) / n END;

-- The p-th part of the values, interpolated between two of them (p from 0 to 1).
CREATE MACRO quantile_of(x, p) AS quantile_cont(CAST(x AS DOUBLE), p);
CREATE MACRO median_of(x) AS quantile_cont(CAST(x AS DOUBLE), 0.5); -- the median of the values
CREATE MACRO iqr_of(x) AS quantile_cont(CAST(x AS DOUBLE), 0.75) - quantile_cont(CAST(x AS DOUBLE), 0.25); -- the distance between the values' quartiles

-- A parameter that lists numbers or texts: '1.0,1.2,1.5'.
CREATE MACRO numbers(list) AS list_transform(list_filter(string_split(list, ','), lambda s: trim(s) <> ''), lambda s: CAST(trim(s) AS DOUBLE));
CREATE MACRO words(list) AS list_filter(list_transform(string_split(list, ','), lambda s: trim(s)), lambda s: s <> '');

-- Units for people who read the other ones, and back (factors by NIST SP 811 app. B.8).
CREATE MACRO kpa_to_psi(x) AS x / 6.894757293168361e0; -- kPa to psi
CREATE MACRO psi_to_kpa(x) AS x * 6.894757293168361e0; -- psi to kPa
CREATE MACRO kpa_to_bar(x) AS x / 100; -- kPa to bar
CREATE MACRO kpa_to_inhg(x) AS x / 3.386389e0; -- kPa to inHg
CREATE MACRO c_to_f(x) AS x * 1.8e0 + 32; -- a temperature from °C to °F
CREATE MACRO f_to_c(x) AS (x - 32) / 1.8e0; -- a temperature from °F to °C
CREATE MACRO c_to_k(x) AS x + 273.15e0; -- a temperature from °C to K
CREATE MACRO nm_to_lb_ft(x) AS x / 1.3558179483314004e0; -- N·m to lb-ft
CREATE MACRO lb_ft_to_nm(x) AS x * 1.3558179483314004e0; -- lb-ft to N·m
CREATE MACRO kw_to_hp(x) AS x / 0.7456998715822702e0; -- kW to mechanical horsepower (550 ft·lbf/s)
CREATE MACRO hp_to_kw(x) AS x * 0.7456998715822702e0; -- mechanical horsepower (550 ft·lbf/s) to kW
CREATE MACRO kw_to_ps(x) AS x / 0.73549875e0; -- kW to metric horsepower
CREATE MACRO kmh_to_mph(x) AS x / 1.609344e0; -- km/h to mph
CREATE MACRO mph_to_kmh(x) AS x * 1.609344e0; -- mph to km/h
CREATE MACRO g_s_to_kg_h(x) AS x * 3.6e0; -- g/s to kg/h
CREATE MACRO g_s_to_lb_min(x) AS x * 3.6 / 27.2155422; -- g/s to lb/min
CREATE MACRO kg_h_to_lb_h(x) AS x / 0.45359237e0; -- kg/h to lb/h

-- A time from its text as RFC 3339 has it, and the day of a time (UTC).
CREATE MACRO instant(text) AS CAST(text AS TIMESTAMP WITH TIME ZONE);
CREATE MACRO day_of(t) AS CAST(t AS DATE);

-- A row for each element of a list of numbers or texts.
CREATE MACRO each_of(list) AS unnest(list);

-- The texts of a group, sorted, with a comma between them.
CREATE MACRO joined(x) AS string_agg(x, ', ' ORDER BY x);

-- Student's t, 0.975 quantile, for 1 or more degrees of freedom, which need not be whole; NULL below 1. A polynomial for its logarithm in
-- 1 / df, fitted by Chebyshev to the exact quantile: good to 1e-7 of the value (40 CFR 1065.602 tabulates whole degrees).
CREATE MACRO t975(df) AS CASE WHEN df > 0.999999 THEN exp(0.6729261349189831 + (1.2103580912931509 + (0.7077653625935585 + (0.1504817516991427 + (-0.22767609081384388
    + (-0.07638863131216393 + (0.13863349748427484 + (-0.0025158614563770276 + (-0.04768135463004001 + 0.01618758330238052 / df) / df) / df) / df) / df) / df) / df) / df) / df) END;

-- Two groups of pulls with standard deviations sd_a, sd_b and n_a, n_b pulls (40 CFR 1065.602(f), Welch): the standard error of the difference of
-- their means, its degrees of freedom, and half the pointwise 95 % interval. NULL where a group has one pull or none; without any scatter the
-- half is 0.
CREATE MACRO welch_se(sd_a, n_a, sd_b, n_b) AS CASE WHEN n_a > 1 AND n_b > 1 THEN sqrt(sd_a * sd_a / n_a + sd_b * sd_b / n_b) END;
CREATE MACRO welch_df(sd_a, n_a, sd_b, n_b) AS CASE WHEN n_a > 1 AND n_b > 1 AND sd_a + sd_b > 0 THEN
    (sd_a * sd_a / n_a + sd_b * sd_b / n_b) * (sd_a * sd_a / n_a + sd_b * sd_b / n_b)
    / (sd_a * sd_a / n_a * sd_a * sd_a / n_a / (n_a - 1) + sd_b * sd_b / n_b * sd_b * sd_b / n_b / (n_b - 1)) END;
CREATE MACRO welch_half(sd_a, n_a, sd_b, n_b) AS CASE WHEN n_a > 1 AND n_b > 1 AND sd_a + sd_b = 0 THEN 0.0
    ELSE t975(welch_df(sd_a, n_a, sd_b, n_b)) * welch_se(sd_a, n_a, sd_b, n_b) END;

-- What a 95 % interval of a difference says; without an interval nothing is shown. What rounding alone makes of equal values is no difference.
CREATE MACRO verdict_of(lo, hi) AS CASE WHEN lo > 1e-9 THEN 'gain' WHEN hi < -1e-9 THEN 'loss' ELSE 'no difference shown' END;
