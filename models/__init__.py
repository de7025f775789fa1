"""Everything heeldepth knows that does not depend on HTTP."""
