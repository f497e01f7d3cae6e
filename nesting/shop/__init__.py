"""What the trade computes: cutters, feeds, time, cost, break-down, hold-down."""
