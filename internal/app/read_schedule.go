package app

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"brinefield/core/season"
)

// ReadSchedule reads a document of the command schedule, sealed or opened, and
// checks what needs neither key nor seal: the plan, and that the trials and the
// rule are those of the plan. [CheckSchedule] does the rest. Faults come back all
// at once as a [*FaultsError]. Keys that are not known are passed over.
func ReadSchedule(name string, data []byte) (*ScheduleDocument, error) {
	var d ScheduleDocument
	if err := json.Unmarshal(data, &d); err != nil {
		return nil, &FaultsError{Faults: []season.Fault{noSchedule(name, data, err)}}
	}
	c := &specCheck{name: name}
	if d.check(c); len(c.faults) == 0 {
		return &d, nil
	}
	c = &specCheck{name: name, lines: jsonLines(data)} // only now: a document is long
	d.check(c)
	for i := range c.faults {
		c.faults[i].Row = max(1, c.faults[i].Row) // where the key is missing, the document begins there
	}
	return nil, &FaultsError{Faults: c.faults}
}

const expectedSchedule = "the document that brinefield schedule printed"

// noSchedule says why a text is no document of the command schedule.
func noSchedule(name string, data []byte, err error) season.Fault {
	fault := season.Fault{File: name, Row: 1, Wrong: "this is no schedule", Expected: expectedSchedule}
	var syntax *json.SyntaxError
	var mismatch *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		fault.Row = lineAt(data, syntax.Offset)
		fault.Wrong += ": it is not JSON from here on"
	case errors.As(err, &mismatch):
		fault.Row, fault.Column = lineAt(data, mismatch.Offset), mismatch.Field
		fault.Wrong += ": found a " + strings.Replace(mismatch.Value, "array", "list", 1) + " where a " + plainType(mismatch.Type.String()) + " stands"
	}
	return fault
}

// mostScheduleFaults is how many trials with a wrong name are told.
const mostScheduleFaults = 5

func (d *ScheduleDocument) check(c *specCheck) {
	plan := d.Plan.core()
	if err := plan.Check(); err != nil {
		for line := range strings.SplitSeq(err.Error(), "\n") {
			wrong, expected, _ := strings.Cut(strings.TrimPrefix(line, ErrSchedule.Error()+": "), "; expected ")
			c.fault("plan", wrong, expected)
		}
		return
	}
	if len(d.Trials) != plan.Trials || len(d.Spare) != plan.Spare {
		c.fault("trials", fmt.Sprintf("%d trials and %d spare draws, and the plan says %d and %d", len(d.Trials), len(d.Spare), plan.Trials, plan.Spare), "the whole document")
		return
	}
	// The seal holds the order of the trials, and names them only inside what is
	// sealed: a name is the number of a place.
	told := 0
	for i, id := range plan.IDs() {
		if found := d.at(i).Trial; found != id && told < mostScheduleFaults {
			c.fault("trials", fmt.Sprintf("trial %q stands in the place of %s", found, id), "the trials in their order, named as they were drawn")
			told++
		}
	}
	if block := plan.Block(); d.Rule.Rule != "blocks" || d.Rule.Block != block {
		c.fault("rule", fmt.Sprintf("the rule %q with blocks of %d", d.Rule.Rule, d.Rule.Block), fmt.Sprintf("blocks of %d, by which this plan is drawn", block))
	}
}
