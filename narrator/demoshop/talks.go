package demoshop

// talk is what is typed about a job: what the customer said, what was found, what was done.
type talk struct{ complaint, cause, correction string }

// talks are those of a procedure.
var talks = map[string][]talk{
	"oil-service": {
		{"service due", "", "oil and filter renewed, inspection done"},
		{"service lamp on", "interval over by 1 200 km", "oil and filter renewed, display reset"},
		{"oil low between services", "no leak found", "oil and filter renewed, to be checked after 1 000 km"},
	},
	"front-brakes": {
		{"grinds when braking", "pads down to the plates, left", "discs and pads renewed, both sides"},
		{"steering wheel shakes when braking", "discs warped", "discs and pads renewed, both sides"},
		{"squeals when cold", "pads glazed", "discs and pads renewed, bedded in"},
	},
	"spark-plugs": {
		{"runs rough at idle", "plug 3 fouled", "plugs renewed"},
		{"engine lamp, misfire", "gap of plug 2 too wide", "plugs renewed, fault memory cleared"},
	},
	"valve-cover": {
		{"smells of oil when hot", "gasket hard at cylinder 4", "valve cover gasket renewed"},
		{"oil on the engine", "gasket leaks at the rear", "gasket renewed, engine washed"},
	},
	"thermostat": {
		{"heater stays cold", "thermostat open", "thermostat renewed, system bled"},
		{"needle climbs on the motorway", "thermostat opens late", "thermostat renewed"},
	},
	"compressor-service": {{"service due", "", "oil, filter and belt looked after"}, {"takes long to fill", "belt slack", "belt set, valves cleaned"}},
	"wheel-bearing":      {{"hums from 60 km/h", "left bearing rough", "bearing renewed"}, {"play found at the inspection", "bearing worn", "bearing renewed"}},
	"water-pump":         {{"loses coolant", "pump weeps at its shaft", "water pump renewed"}, {"whines when cold", "pump bearing", "water pump renewed"}},
	"valve-clearance":    {{"rattles when warm", "exhaust of cylinder 2 too wide", "clearances set"}},
	"bottom-bracket":     {{"creaks under load", "cups dry", "bottom bracket renewed"}},
	"timing-belt":        {{"belt due by age", "", "timing belt and tensioner renewed"}},
	"clutch":             {{"clutch slips uphill", "lining worn", "clutch renewed"}},
}

// besides is what is found beside the job, in a spoken note.
var besides = []string{
	"Boot torn on the inner left joint.",
	"Rear shock absorber is wet.",
	"Tyre has a nail in it, front right.",
	"Exhaust hanger is cracked.",
	"Battery clamp is loose and furred.",
	"Brake pipe is rusty above the tank.",
	"Wiper blades are torn.",
	"Coolant hose is soft at the thermostat.",
	"Sump plug has been overtightened before.",
	"Bonnet stay is bent.",
}

// afterwards is what is written about a job when it is done.
var afterwards = []string{
	"Bay 2 was full, so it was done outside.",
	"The long extension was missing again.",
	"Undertray screws are a mix of two lengths; new ones ordered.",
	"Customer waited in the shop.",
	"Somebody had been at this before: threads full of sealant.",
	"Parts were the wrong ones at first.",
}

// struggle is why a step took long, as it is said into a note and as it is written down.
type struggle struct{ said, written string }

var struggles = []struggle{
	{"No room for the wrench with that bracket in the way. Took the bracket off.", "bracket in the way, taken off"},
	{"The old gasket is baked on. Scraped it for ages.", "old gasket baked on"},
	{"The clip broke. Had to look for another.", "clip broke, another found in the drawer"},
	{"A socket fell into the undertray. Took the tray off to get it.", "socket dropped into the undertray"},
	{"The plug will not let go of its connector. Dirt in the lock.", "dirt in the connector's lock"},
	{"Fitted it the wrong way round first. Did it again.", "fitted the wrong way round, done again"},
}
