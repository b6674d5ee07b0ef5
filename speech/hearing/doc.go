// Package hearing measures how well recognisers hear: on labelled clips, clean
// and in noise, on words that are none of theirs, and on long recordings that
// hold no command. Every engine hears the very same sound, so that their figures
// stand side by side.
//
// A clip is set in a scene: LeadIn of noise, the clip in the same noise, Tail of
// it. The engine hears the scene from a fresh state.
package hearing
