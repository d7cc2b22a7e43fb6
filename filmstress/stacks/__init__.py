"""The states of one wafer under several films: stack file, forces, bows, the balancing layer."""
