"""Where to hang the boxes: site quality, dispersal, the choice of sites."""
