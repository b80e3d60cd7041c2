package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Fit is a linear least squares fit of y to several columns.
type Fit struct {
	Coefficients []Estimate
	SD, SSE      float64 // Of the residuals.
	DF           float64
	N            int
}

// Regress fits y = Σ c[k]·columns[k] by least squares (Householder QR with the columns brought to one scale); give a column of ones
// for an intercept. Rows with a missing value are left out. The errors of y are taken as independent and of one spread. Coefficients
// are NaN where there are fewer rows than columns or a column is a combination of the others; their errors are NaN without a row to
// spare. The columns must be as long as y.
func Regress(y []float64, columns ...[]float64) Fit {
	p := len(columns)
	f := Fit{Coefficients: make([]Estimate, p), SD: math.NaN(), SSE: math.NaN(), DF: math.NaN()}
	for k := range f.Coefficients {
		f.Coefficients[k] = Estimate{math.NaN(), math.NaN(), math.NaN()}
	}
	rows, rhs, scale := design(y, columns)
	f.N = len(rhs)
	if p == 0 || f.N < p {
		return f
	}
	a, b := mat.NewDense(f.N, p, rows), mat.NewVecDense(f.N, rhs)
	var qr mat.QR
	qr.Factorize(a)
	var r mat.Dense
	qr.RTo(&r)
	for k := range p {
		if !(math.Abs(r.At(k, k)) > 1e-15*float64(f.N)) { // The columns have length 1.
			return f
		}
	}
	var c mat.VecDense
	if err := qr.SolveVecTo(&c, false, b); err != nil && c.Len() != p {
		return f
	}
	var e mat.VecDense
	e.MulVec(a, &c)
	e.SubVec(b, &e)
	f.SSE, f.DF = mat.Dot(&e, &e), float64(f.N-p)
	if f.DF > 0 {
		f.SD = math.Sqrt(f.SSE / f.DF)
	}
	inverse := invert(&r, p)
	for k := range p {
		f.Coefficients[k] = Estimate{Value: c.AtVec(k) / scale[k], SE: f.SD * mat.Norm(inverse.RowView(k), 2) / scale[k], DF: f.DF}
	}
	return f
}

// design lays out the rows without a missing value, each column scaled to length 1.
func design(y []float64, columns [][]float64) (rows, rhs, scale []float64) {
	scale = make([]float64, len(columns))
	for i, v := range y {
		sum := v
		for _, c := range columns {
			sum += c[i]
		}
		if math.IsNaN(sum) {
			continue
		}
		rhs = append(rhs, v)
		for k, c := range columns {
			rows = append(rows, c[i])
			scale[k] += c[i] * c[i]
		}
	}
	for k := range scale {
		scale[k] = math.Sqrt(scale[k])
	}
	for i := range rows {
		rows[i] /= scale[i%len(columns)]
	}
	return rows, rhs, scale
}

// invert is the inverse of the upper triangle of r.
func invert(r *mat.Dense, p int) *mat.Dense {
	out := mat.NewDense(p, p, nil)
	for col := range p {
		for i := col; i >= 0; i-- {
			s := 0.0
			if i == col {
				s = 1
			}
			for j := i + 1; j <= col; j++ {
				s -= r.At(i, j) * out.At(j, col)
			}
			out.Set(i, col, s/r.At(i, i))
		}
	}
	return out
}

// Powers are the columns 1, x, x², … of a polynomial's fit.
func Powers(x []float64, degree int) [][]float64 {
	out := make([][]float64, degree+1)
	for k := range out {
		out[k] = make([]float64, len(x))
		for i, v := range x {
			out[k][i] = 1
			if k > 0 {
				out[k][i] = out[k-1][i] * v
			}
		}
	}
	return out
}
