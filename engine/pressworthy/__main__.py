from pressworthy.commands.main import command_line

command_line()
