"""How fast the service is, as ratios against floors measured in the same run."""
