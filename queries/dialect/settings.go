package dialect

// Setting is one that the session must have for the answers to be the same.
type Setting struct{ Name, Value string }

// Settings are those of ClickHouse under which translated statements answer as DuckDB does.
func Settings() []Setting {
	return []Setting{
		{"join_use_nulls", "1"},                                 // What an outer join does not find is NULL.
		{"cast_keep_nullable", "1"},                             // A cast of NULL is NULL.
		{"prefer_column_name_to_alias", "1"},                    // A name is a column before it is an alias.
		{"enable_analyzer", "1"},                                // Names are resolved as SQL has it.
		{"least_greatest_legacy_null_behavior", "0"},            // greatest and least pass over NULL.
		{"transform_null_in", "0"},                              // NULL IN (…) is NULL.
		{"group_by_use_nulls", "0"},                             // As it is without ROLLUP.
		{"union_default_mode", "DISTINCT"},                      // Every UNION says which it is all the same.
		{"data_type_default_nullable", "0"},                     // Types are written out.
		{"enable_extended_results_for_datetime_functions", "1"}, // Days before 1970 and after 2149.
		{"session_timezone", "UTC"},
		{"max_query_size", "16777216"}, // Of a long statement, whose translation is longer still.
		{"max_ast_elements", "1000000"},
		{"max_expanded_ast_elements", "2000000"},
		{"count_distinct_implementation", "uniqExact"},
		{"optimize_move_to_prewhere", "1"},
	}
}
