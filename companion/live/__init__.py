"""A lesson that is going on: what the hour asks for, the ear of this session, clips, what pages ask."""
