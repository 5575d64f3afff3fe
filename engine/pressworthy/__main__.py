from pressworthy.commands.main import main

raise SystemExit(main())
