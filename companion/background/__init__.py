"""The process that runs all day: start, stop, control, requests, status, autostart, doctor."""
