package deck

// Format is the version of [Spec] that this program writes and knows.
const Format = 1

// The answers.
const (
	Blank Answer = ""
	Yes   Answer = "yes"
	No    Answer = "no"
)

// Default is what a study begins with that states nothing of its own. Turned and
// bit mean what they mean in passes.csv: a turn is one to a pair, and a bite is
// at an electrode. An animal that avoids a pair or bites what smells did neither.
func Default() Spec {
	return Spec{
		Format: Format,
		Responses: []Response{
			{Label: "No turn", Turned: No, Bit: No},
			{Label: "Turn", Turned: Yes, Bit: No},
			{Label: "Bite", Turned: Yes, Bit: Yes, Electrode: true},
			{Word: "avoidance", Label: "Avoids", Turned: No, Bit: No},
			{Word: "overshoot", Label: "Turns, overshoots", Turned: Yes, Bit: No},
			{Word: "bite at the odour", Label: "Bites at the odour", Turned: No, Bit: No},
			{Word: "unscorable", Label: "Cannot be scored", Turned: Blank, Bit: Blank},
		},
		Heights: []Height{
			{Word: "on the bottom", LowCM: 0, HighCM: 5},
			{Word: "low", LowCM: 5, HighCM: 20},
			{Word: "high", LowCM: 20, HighCM: 60},
		},
		Checks: []Check{
			{Word: "electrodes", Label: "No sand and no bubbles on the electrodes"},
			{Word: "plate", Label: "Plate level and where it belongs"},
			{Word: "silent pairs", Label: "Silent pairs looked at: nothing flows where nothing should"},
			{Word: "camera", Label: "Camera runs, whole plate in view, clock compared"},
			{Word: "people", Label: "Divers and swimmers out of the water, or told"},
		},
	}
}
