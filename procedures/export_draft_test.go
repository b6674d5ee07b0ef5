package procedures

// Clean is for tests in the external package.
var Clean = clean
