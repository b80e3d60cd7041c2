-- The functions by which the queries are spelled the same on every engine. Each has one definition here; another engine
-- brings its own file of the same names.

-- bin: the middle of the bin of the given width that x falls into.
CREATE MACRO bin_mid(x, width) AS (floor(x / width) + 0.5) * width;

-- The p-th part of the values, interpolated between two of them (p from 0 to 1).
CREATE MACRO quantile_of(x, p) AS quantile_cont(CAST(x AS DOUBLE), p);

-- A parameter that lists numbers or texts: '1.0,1.2,1.5'.
CREATE MACRO numbers(list) AS list_transform(list_filter(string_split(list, ','), lambda s: trim(s) <> ''), lambda s: CAST(trim(s) AS DOUBLE));
CREATE MACRO words(list) AS list_filter(list_transform(string_split(list, ','), lambda s: trim(s)), lambda s: s <> '');

-- Units for people who read the other ones (factors by NIST SP 811 app. B.8).
CREATE MACRO kpa_to_psi(x) AS x / 6.894757293168361;
CREATE MACRO c_to_f(x) AS x * 1.8 + 32;
CREATE MACRO nm_to_lb_ft(x) AS x / 1.3558179483314004;
CREATE MACRO kw_to_hp(x) AS x / 0.7456998715822702;
CREATE MACRO kmh_to_mph(x) AS x / 1.609344;
CREATE MACRO g_s_to_lb_min(x) AS x * 3.6 / 27.2155422;
CREATE MACRO kg_h_to_lb_h(x) AS x / 0.45359237;

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

-- What a 95 % interval of a difference says; without an interval nothing is shown.
CREATE MACRO verdict_of(lo, hi) AS CASE WHEN lo > 0 THEN 'gain' WHEN hi < 0 THEN 'loss' ELSE 'no difference shown' END;
