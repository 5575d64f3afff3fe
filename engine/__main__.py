from pressworthy.cli import main

raise SystemExit(main())
