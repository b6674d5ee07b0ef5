package narrator_test

// everything is an invented job in which everything occurs that a procedure may ask for.
const everything = `
stepcaller: 2
id: coolant-hose
title: Upper coolant hose
machine: Pellworth Drover 2.0 diesel
book:
  - {code: C-2210, title: Upper hose, hours: 1.2}
tools: [ratchet, 10 mm socket]
fluids:
  - {name: coolant, spec: type P2, capacity: 8.4 l}
cautions:
  - Work only on a cold engine.
  - {use: airbag, wait: 10}
choices:
  - {id: hose-hard, ask: Is the upper hose hard or cracked?}
  - {id: extra-hose, ask: Does the bypass hose need renewing?, approval: true}
steps:
  - id: up
    say: Raise the vehicle.
    minutes: 2
    cautions:
      - {use: raised-vehicle}
      - {say: Chain hoist hooked in., answer: engine held}
      - Mind your head.
    support: [2 stands]
  - id: drain
    say: Drain the coolant.
    minutes: 3
    cautions: [{use: raised-vehicle}, {use: fuel-pressure}]
    drain: [coolant]
    stuff: [4 rags]
    readings:
      - {name: rotor thickness, unit: mm, min: 22.0, max: 24.2, wear: 21.4, positions: [left, right]}
      - {name: coolant level, unit: mm, when: before}
  - id: hose-off
    say: Pull the upper hose off.
    minutes: 4
    only_if: hose-hard
    off: [upper hose]
  - id: bypass
    say: Renew the bypass hose.
    title: Bypass hose
    minutes: 4
    only_if: extra-hose
    off: [bypass hose]
    back: [bypass hose]
  - id: seal
    say: Lay the sealant on.
    minutes: 3
    timers:
      - {name: sealant, minutes: 10, say: The sealant has skinned.}
      - {name: degassing, minutes: 4, from: word}
    loosening:
      - {fastener: M8 cover bolt, count: 4, order: criss-cross}
  - id: hose-on
    say: Push the upper hose on.
    minutes: 4
    only_if: hose-hard
    await: [sealant]
    back: [upper hose]
  - id: fill
    say: Fill up and take the rags out.
    minutes: 5
    await: [sealant, degassing]
    fill: [coolant]
    out: [4 rags]
    level: [coolant]
    readings:
      - {name: coolant level, unit: mm, min: 5, when: after}
    torque:
      - {fastener: cover bolt, count: 4, value: 20 N·m, stages: [half, full], order: criss-cross, again: after heat}
  - id: run
    say: Start the engine and let it warm up.
    minutes: 3
    starts_engine: true
    timers: [{name: warm-up, minutes: 60, from: begin}]
  - id: down
    say: Let the vehicle down.
    minutes: 3
    clear: [2 stands]
  - {id: road, say: Drive it round the block., minutes: 8, road_test: true, cautions: [{use: wheels}]}
  - {id: last, say: Look for leaks., minutes: 3, level: [coolant]}
`

// answered stands at the first step of everything, with its cautions answered.
func answered(t failer) *rig {
	r := newRigOn(t, everything)
	r.say(5, "power down")
	r.say(700, "power down")
	r.say(702, "stands set")
	r.say(704, "engine held")
	return r
}
