"""What goes down to the benches: commands from the board, and the job that is next.

commands.py   a command out, and the wait for its answer
next_job.py   the retained order of each bench, kept as the store has it
"""
