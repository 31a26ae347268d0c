// Package rig works out what a rig delivers: battery or constant current,
// limiting resistors, a ladder of preferred values, cable, electrodes in the
// water. Every answer is a nodal analysis of the whole network, the water
// included: an electrode is a node of the water, with a spreading resistance of
// its own and one that it shares with every other electrode.
//
// SI units throughout (volt, ampere, ohm, metre, S/m). Currents are positive
// out of an electrode into the water; potentials are against the water far
// away. The formulas are those of water without end over an insulating plate
// without end, or of open water.
package rig
