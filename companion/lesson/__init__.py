"""What a lesson is: plain values and functions, with no clock, file, thread or audio inside."""
