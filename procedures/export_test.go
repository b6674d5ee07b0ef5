package procedures

// What tests in the external package use besides the exported names.
var Clean = clean

// Apart reports whether the choices that touch a thing were proved one by one.
func Apart(p *Procedure, name string) bool { return newAudit(p).apart(itemKey(name)) }
