"""The local web page: today's list, each colony's history, the forms, the boxes, the map."""
