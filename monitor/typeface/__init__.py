"""One typeface for page, certificate, labels and reports: found in its package, and cut to the letters a browser needs.

Rules this package keeps:
1. The typeface comes from a package of the registry under its free licence; no font file belongs to this program. Without
   the package everything is set in the serif of the machine or of the typesetter, and nothing says otherwise.
2. Cuts are made once, in a child process, and kept in a folder under the recipe's name: what was cut from another
   version, or in another way, is cut anew.
3. The same versions give the same bytes.
"""

from monitor.typeface.family import family_folder, family_version
from monitor.typeface.kept_cuts import KeptCuts
from monitor.typeface.web_cuts import CUTS, face_rules
