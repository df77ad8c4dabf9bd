"""Which colony may swarm, when and why: the model from records to chances."""
