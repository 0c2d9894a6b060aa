"""A practice fleet: invented sites whose plants age by stated laws, with real records of their visits."""
