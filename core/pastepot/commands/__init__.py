"""The command line's commands, one module each.

A command module has:  NAME, SUMMARY, EXAMPLE (strings), add_arguments(parser) and run(args, console) -> exit code.
"""
