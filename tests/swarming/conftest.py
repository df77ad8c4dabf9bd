import sys
from pathlib import Path

# importlib mode puts no folder on the path; the scene is shared by the tests of this folder
sys.path.insert(0, str(Path(__file__).parent))
