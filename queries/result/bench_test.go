package result

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"testing"
)

const benchRows = 100_000

func benchValues() ([]Column, [][]any) {
	columns := []Column{{Name: "run_id"}, {Name: "t_s", Kind: Float64}}
	for i := range 8 {
		columns = append(columns, Column{Name: fmt.Sprintf("c%d_kpa", i), Kind: Float32})
	}
	rows := make([][]any, benchRows)
	for i := range rows {
		rows[i] = []any{"0123456789abcdef", float64(i) / 50}
		for k := range 8 {
			rows[i] = append(rows[i], float32(i%977)/3+float32(k))
		}
	}
	return columns, rows
}

// BenchmarkWrite prints rows of ten columns in each format.
func BenchmarkWrite(b *testing.B) {
	columns, rows := benchValues()
	for _, f := range []Format{CSV, JSON, Parquet, Markdown, Table} {
		b.Run(string(f), func(b *testing.B) {
			for b.Loop() {
				if err := Write(b.Context(), io.Discard, Of(columns, rows), f, Options{}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(benchRows*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}

// BenchmarkStandard prints the same rows with the standard library's writers.
func BenchmarkStandard(b *testing.B) {
	columns, rows := benchValues()
	b.Run("csv", func(b *testing.B) {
		for b.Loop() {
			w := csv.NewWriter(io.Discard)
			line := make([]string, len(columns))
			for _, row := range rows {
				for i, v := range row {
					switch v := v.(type) {
					case string:
						line[i] = v
					case float64:
						line[i] = strconv.FormatFloat(v, 'f', -1, 64)
					case float32:
						line[i] = strconv.FormatFloat(float64(v), 'f', -1, 32)
					}
				}
				_ = w.Write(line)
			}
			w.Flush()
		}
		b.ReportMetric(benchRows*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
	})
	b.Run("json", func(b *testing.B) {
		for b.Loop() {
			e := json.NewEncoder(io.Discard)
			for _, row := range rows {
				object := make(map[string]any, len(columns))
				for i, v := range row {
					object[columns[i].Name] = v
				}
				_ = e.Encode(object)
			}
		}
		b.ReportMetric(benchRows*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
	})
}
