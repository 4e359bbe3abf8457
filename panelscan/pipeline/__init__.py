"""The only place where intake, vision, layout and corpus meet."""
