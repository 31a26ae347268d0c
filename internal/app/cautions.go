package app

import "slices"

// caution is one thing to look to before and during the work, and the
// published document that it rests on.
type caution struct {
	id, text, rests string
}

type cautionGroup struct {
	about    string
	cautions []caution
}

// The documents. Their titles are from memory; no clause of them is cited,
// and the sentences of the list are our own.
const (
	restsDiving     = "HSE, Approved Code of Practice L107: Scientific and archaeological diving projects"
	restsDivers     = "AAUS, Standards for Scientific Diving"
	restsCurrent    = "IEC 60479-1, Effects of current on human beings and livestock"
	restsWater      = "IMCA D 045, Code of practice for the safe use of electricity under water"
	restsAnimals    = "Directive 2010/63/EU on the protection of animals used for scientific purposes"
	restsReporting  = "ARRIVE guidelines 2.0, PLoS Biology 2020, doi:10.1371/journal.pbio.3000410"
	restsBehaviour  = "ASAB/ABS, Guidelines for the ethical treatment of nonhuman animals in behavioural research and teaching, Animal Behaviour"
	restsAversive   = "Marine Technology Society Journal 42(2), 2008: fields that make sharks twitch and retreat"
	restsCollisions = "IMO, Convention on the International Regulations for Preventing Collisions at Sea, 1972 (COLREGs)"
	restsNagoya     = "Nagoya Protocol on Access to Genetic Resources, where samples are taken; otherwise the law of the place"
	localRules      = "Local rules decide"
)

// cautionList is what the page Question shows. An ID is never given to another
// caution: ticks in studies refer to it.
var cautionList = []cautionGroup{
	{"Diving", []caution{
		{"dive-plan", "Every dive has a written plan with a supervisor, a standby diver and limits of depth and time.", restsDiving},
		{"dive-trained", "Every diver is trained for scientific work, fit, and in practice for this depth and water.", restsDivers},
		{"dive-officer", "Whoever answers for scientific diving here (a diving officer or board) has seen the plan and agreed to it.", restsDivers},
		{"dive-emergency", "Oxygen, communication and the way to a chamber are known to all and were tried.", restsDiving},
		{"dive-local", "The rules for diving at work in this place were looked up and are met.", localRules},
	}},
	{"Electricity in water", []caution{
		{"current-limited", "What feeds the electrodes cannot deliver a current that harms a person, even with a fault in it.", restsCurrent},
		{"current-voltage", "The supply is of extra-low voltage, and its limiting resistors sit at the battery, potted: no fault down the cable passes more than they let through (page Rig).", restsWater},
		{"current-isolated", "The supply runs on batteries and has no path to the mains or to the boat's own supply.", restsWater},
		{"current-handling", "Nobody handles bare electrodes or open connectors while they are driven; a diver can have them switched off at once.", restsWater},
		{"current-mains", "Pumps, lights and chargers round a tank hang on a residual current device and are kept off wet hands.", restsCurrent},
		{"current-local", "The rules for electricity in and near water in this place were looked up and are met.", localRules},
	}},
	{"Animals", []caution{
		{"animals-approval", "An ethical review was made, or a competent person confirmed that none is needed, before the first trial.", restsAnimals},
		{"animals-need", "The number of animals and of trials is no greater than the question needs, and was worked out beforehand.", restsReporting},
		{"animals-field", "The largest field that an animal can meet, at the electrodes and with a fault, lies far below what makes sharks twitch (page Rig), and avoidance is looked for and written down.", restsAversive},
		{"animals-stop", "It is written down when a trial is stopped for an animal's sake, and who may stop it.", restsBehaviour},
		{"animals-handling", "Handling, marking and holding are as short as they can be, and done by people who are trained in it.", restsAnimals},
		{"animals-local", "The rules for work with these species in this place were looked up and are met.", localRules},
	}},
	{"Bait", []caution{
		{"bait-amount", "Bait and odour are the least that will do, are written down for every trial, and do not change with the active pair.", restsBehaviour},
		{"bait-others", "Feeding does not draw sharks, seals or birds to bathers, divers or nets nearby.", restsBehaviour},
		{"bait-local", "Baiting is allowed in this place, and what is used carries no disease into it.", localRules},
	}},
	{"Boats and weather", []caution{
		{"boat-signals", "Divers in the water are shown by the proper signal, and somebody keeps a lookout.", restsCollisions},
		{"boat-weather", "Limits of wind, swell, stream and visibility are agreed ashore, with somebody who calls the day off.", restsDiving},
		{"boat-ashore", "Somebody ashore knows where the party is and when to raise the alarm.", restsDivers},
		{"boat-local", "The boat, its crew and its equipment meet the rules of this place.", localRules},
	}},
	{"Permits", []caution{
		{"permit-animals", "The permit or approval for the animals covers these species, this number and these dates.", restsAnimals},
		{"permit-samples", "Where anything is taken from the water or from animals, that is allowed and agreed with the country.", restsNagoya},
		{"permit-place", "The owner, the harbour, the reserve or whoever answers for the place agreed in writing.", localRules},
		{"permit-people", "Whoever can be seen or heard in footage agreed to it, and personal data are kept as the law asks.", localRules},
		{"permit-local", "All permits are listed above, are valid on the days of the work, and copies are at hand.", localRules},
	}},
}

func knownCaution(id string) bool {
	return slices.ContainsFunc(cautionList, func(g cautionGroup) bool {
		return slices.ContainsFunc(g.cautions, func(c caution) bool { return c.id == id })
	})
}

func cautionCount() int {
	n := 0
	for _, g := range cautionList {
		n += len(g.cautions)
	}
	return n
}
