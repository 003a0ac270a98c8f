"""One module a command, each with `run(options, environment) -> ExitStatus`."""
