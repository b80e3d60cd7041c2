package derive

import "math"

// TransferUnits is the size of a heat exchanger, U A / C_min: the product U A in kW/K over the lesser stream's capacity m cp in kW/K
// (a textbook's definition). NaN unless both are above zero.
func TransferUnits(ua, least float64) float64 {
	if !(ua > 0 && least > 0) {
		return math.NaN()
	}
	return ua / least
}

// CrossFlow is the effectiveness of an exchanger whose streams cross, both unmixed: 1 - exp(N^0.22 (exp(-C N^0.78) - 1) / C), with N its
// TransferUnits and C the lesser over the greater heat capacity flow (Incropera and DeWitt, from memory; Som, Introduction to Heat Transfer,
// has it in ex. 10.7), a fitted approximation. For C = 0, where one stream keeps its temperature, 1 - exp(-N). NaN outside N >= 0
// and 0 <= C <= 1.
func CrossFlow(units, capacities float64) float64 {
	switch {
	case !(units >= 0 && capacities >= 0 && capacities <= 1):
		return math.NaN()
	case units == 0:
		return 0
	case capacities < 1e-9:
		return 1 - math.Exp(-units)
	}
	return 1 - math.Exp(math.Pow(units, 0.22)*math.Expm1(-capacities*math.Pow(units, 0.78))/capacities)
}

// MeanDifference is the logarithmic mean of the temperature differences at an exchanger's ends, (a - b) / ln(a/b) in K: what the heat flow
// is over U A where the streams run side by side (a textbook's definition). The difference itself where the ends are alike; NaN
// where one is not above zero.
func MeanDifference(a, b float64) float64 {
	switch {
	case !(a > 0 && b > 0):
		return math.NaN()
	case math.Abs(a-b) < 1e-9*a:
		return a
	}
	return (a - b) / math.Log(a/b)
}
