package demo

import "fmt"

// stay is for how many repeats a vehicle comes by before a further one of its make-up takes its place. Ten are some 150 runs, about what a
// vehicle gets that stays at a shop for development (common practice, no source).
const stay = 10

// How much the units of one make-up differ, standard deviations of factors that are cut off at two of them (invented).
const (
	torqueScatter     = 0.006 // Of the full-load torque.
	flowScatter       = 0.005 // Of the flow that the turbo is laid out for.
	efficiencyScatter = 0.004 // Of the turbo's best efficiency.
)

// set says which set of vehicles drives a repeat: 0 is the demo's own six. A repeat that the model's scale does not have is driven by them
// too, so that new runs can be made for a lake of any size.
func (m Model) set(repeat int) int {
	if repeat >= m.Scale {
		return 0
	}
	return repeat / stay
}

// vehicles lists every vehicle that drives one of the model's repeats, set by set: those of a smaller scale come first.
func (m Model) vehicles() []*vehicle {
	var all []*vehicle
	for set := 0; set*stay < m.Scale; set++ {
		all = append(all, m.fleet(set)...)
	}
	return all
}

// fleet makes the vehicles of a set. Those after the first differ a little as units do.
func (m Model) fleet(set int) []*vehicle {
	all := fleet()
	if set == 0 {
		return all
	}
	for _, v := range all {
		v.id = fmt.Sprintf("%s-%02d", v.like, set+1)
		r := m.rng("unit/" + v.id)
		v.engine.torque = v.engine.torque.times(1 + bounded(r, torqueScatter))
		v.turbo.flow *= 1 + bounded(r, flowScatter)
		v.turbo.efficiency *= 1 + bounded(r, efficiencyScatter)
	}
	return all
}
