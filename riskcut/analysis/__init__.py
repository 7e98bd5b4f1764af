"""Where soil meets probability: a compiled study bound to its mechanisms, run, and gathered into results."""
