from pressworthy.commands.cli import main

raise SystemExit(main())
