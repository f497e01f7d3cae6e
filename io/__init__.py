"""Reading drawings, orders and jobs; writing what leaves the program."""
