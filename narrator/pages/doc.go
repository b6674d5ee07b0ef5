// Package pages shows a bay on its own screen: what is being done now, readable across the bay, and afterwards what the jobs took
// against what they pay.
//
// Pages are served to this machine alone: a request from anywhere else, or from a page that is not ours, is refused. HTML is made
// here; a little script keeps the glance page up to date. Nothing is loaded from elsewhere.
package pages
