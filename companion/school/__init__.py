"""Many rooms' lessons asked together: each room's weeks are shared as files, the school sees sums only."""
