"""The shop drawer: machine, bits, boards, sheets, rules, fits, limits, one module each."""
