"""The bibliography of the formulas, cited by key in docstrings as ``[key]``.

``standing`` is the reliability of the copy from which the formula or figure was taken:

``read``         seen in the source, or in a stored copy of its text
``second-hand``  seen in a place that quotes the source: a library manual, a test suite, an abstract
``recalled``     written from memory and supported only by the numerical checks in the tests
``practice``     common practice in the trade, without a test
``own``          plain algebra or arithmetic of this package
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Standing = Literal["read", "second-hand", "recalled", "practice", "own"]


@dataclass(frozen=True)
class Reference:
    """One bibliography entry. ``where``: where it is published; ``standing``: see the module docstring."""

    key: str
    authors: str
    year: int
    title: str
    where: str
    standing: Standing

    def __str__(self) -> str:
        return f"{self.authors} ({self.year}). {self.title}. {self.where}."


_ENTRIES = (
    # air
    Reference(
        "cipm-2007",
        "A. Picard, R. S. Davis, M. Gläser, K. Fujii",
        2008,
        "Revised formula for the density of moist air (CIPM-2007)",
        "Metrologia 45, 149-155",
        "second-hand",
    ),
    Reference(
        "us-standard-atmosphere",
        "NOAA, NASA, USAF",
        1976,
        "U.S. Standard Atmosphere",
        "NOAA-S/T 76-1562, eq. 51 (viscosity) and 50 (speed of sound)",
        "second-hand",
    ),
    Reference(
        "wilke",
        "C. R. Wilke",
        1950,
        "A viscosity equation for gas mixtures",
        "Journal of Chemical Physics 18, 517-519",
        "recalled",
    ),
    Reference(
        "iapws-2008",
        "International Association for the Properties of Water and Steam",
        2008,
        "Formulation for the viscosity of ordinary water substance",
        "IAPWS R12-08, dilute gas term",
        "recalled",
    ),
    Reference("white", "F. M. White", 2011, "Fluid Mechanics, 7th edition", "McGraw-Hill, ch. 1 and 6", "recalled"),
    Reference(
        "cramer",
        "O. Cramer",
        1993,
        "The variation of the specific heat ratio and the speed of sound in air",
        "Journal of the Acoustical Society of America 93, 2510-2516",
        "second-hand",
    ),
    Reference(
        "jcgm-100",
        "Joint Committee for Guides in Metrology",
        2008,
        "Guide to the expression of uncertainty in measurement",
        "JCGM 100:2008",
        "second-hand",
    ),
    # water
    Reference(
        "tanaka",
        "M. Tanaka, G. Girard, R. Davis, A. Peuto, N. Bignell",
        2001,
        "Recommended table for the density of water between 0 °C and 40 °C",
        "Metrologia 38, 301-309",
        "recalled",
    ),
    Reference(
        "grs80",
        "H. Moritz",
        2000,
        "Geodetic Reference System 1980",
        "Journal of Geodesy 74, 128-133, gravity formula 1980",
        "recalled",
    ),
    # pipes and fittings
    Reference(
        "colebrook",
        "C. F. Colebrook",
        1939,
        "Turbulent flow in pipes, with particular reference to the transition region",
        "Journal of the Institution of Civil Engineers 11, 133-156",
        "second-hand",
    ),
    Reference(
        "serghides",
        "T. K. Serghides",
        1984,
        "Estimate friction factor accurately",
        "Chemical Engineering 91(5), 63-64",
        "recalled",
    ),
    Reference(
        "hawthorne",
        "R. C. Hawthorne, H. C. von Helms",
        1963,
        "Flow in corrugated hose",
        "Product Engineering 34(6), 98-100",
        "second-hand",
    ),
    Reference(
        "rennels",
        "D. C. Rennels, H. M. Hudson",
        2012,
        "Pipe Flow: A Practical and Comprehensive Guide",
        "Wiley, ch. 9 to 13",
        "second-hand",
    ),
    Reference(
        "idelchik",
        "I. E. Idelchik",
        1994,
        "Handbook of Hydraulic Resistance, 3rd edition",
        "CRC Press, diagrams 4-14, 4-15 and 8-6",
        "second-hand",
    ),
    Reference(
        "ashrae-fittings",
        "ASHRAE",
        2009,
        "Handbook of Fundamentals, duct fitting coefficients",
        "ASHRAE, ch. 21",
        "second-hand",
    ),
    Reference(
        "bajura-jones",
        "R. A. Bajura, E. H. Jones",
        1976,
        "Flow distribution manifolds",
        "Journal of Fluids Engineering 98, 654-665",
        "second-hand",
    ),
    # meters, plates, holes
    Reference(
        "iso-5167-2-2003",
        "ISO",
        2003,
        "Measurement of fluid flow by means of pressure differential devices: orifice plates",
        "ISO 5167-2:2003, 5.3 and 6.2",
        "second-hand",
    ),
    Reference(
        "iso-5167-4-2003",
        "ISO",
        2003,
        "Measurement of fluid flow by means of pressure differential devices: Venturi tubes",
        "ISO 5167-4:2003, 5.5 to 5.7",
        "second-hand",
    ),
    Reference(
        "shapiro",
        "A. H. Shapiro",
        1953,
        "The Dynamics and Thermodynamics of Compressible Fluid Flow",
        "Ronald Press, vol. 1, ch. 4",
        "recalled",
    ),
    # packings
    Reference(
        "ergun",
        "S. Ergun",
        1952,
        "Fluid flow through packed columns",
        "Chemical Engineering Progress 48, 89-94",
        "second-hand",
    ),
    Reference(
        "tamayol",
        "A. Tamayol, K. W. Wong, M. Bahrami",
        2012,
        "Effects of microstructure on flow properties of fibrous porous media at moderate Reynolds number",
        "Physical Review E 85, 026318",
        "second-hand",
    ),
    Reference(
        "davies",
        "C. N. Davies",
        1952,
        "The separation of airborne dust and particles",
        "Proceedings of the Institution of Mechanical Engineers B1, 185-213",
        "recalled",
    ),
    Reference(
        "bhattacharya",
        "A. Bhattacharya, V. V. Calmidi, R. L. Mahajan",
        2002,
        "Thermophysical properties of high porosity metal foams",
        "International Journal of Heat and Mass Transfer 45, 1017-1031",
        "second-hand",
    ),
    Reference(
        "larkins",
        "R. P. Larkins, R. R. White, D. W. Jeffrey",
        1961,
        "Two-phase concurrent flow in packed beds",
        "AIChE Journal 7, 231-239",
        "recalled",
    ),
    Reference(
        "young-laplace",
        "P.-G. de Gennes, F. Brochard-Wyart, D. Quéré",
        2004,
        "Capillarity and Wetting Phenomena",
        "Springer, ch. 1",
        "recalled",
    ),
    Reference(
        "iapws-r1-76",
        "International Association for the Properties of Water and Steam",
        2014,
        "Revised release on surface tension of ordinary water substance",
        "IAPWS R1-76 (2014)",
        "recalled",
    ),
    Reference(
        "harkins-brown",
        "W. D. Harkins, F. E. Brown",
        1919,
        "The determination of surface tension (free surface energy), and the weight of falling drops",
        "Journal of the American Chemical Society 41, 499-524; table of corrections written from memory",
        "recalled",
    ),
    # foam and mix
    Reference(
        "imo-foam",
        "International Maritime Organization",
        2009,
        "Guidelines for the performance and testing of foam concentrates",
        "MSC.1/Circ.1312, definitions 1.2 and test 3.7",
        "read",
    ),
    Reference(
        "volume-additivity",
        "Frothline",
        2026,
        "Masses and volumes of gas and liquid add",
        "algebra, worked in the docstring",
        "own",
    ),
    Reference(
        "foam-drilling",
        "textbook of foam drilling",
        2000,
        "Foam quality from gas and liquid rates",
        "eq. 10.2 and 10.3; the gas fraction window is credited there to Sanghani (1982)",
        "read",
    ),
    Reference(
        "koehler-drainage",
        "S. A. Koehler, S. Hilgenfeldt, H. A. Stone",
        2000,
        "A generalized view of foam drainage: experiment and theory",
        "Langmuir 16, 6327-6341; permeability constants written from memory",
        "recalled",
    ),
    Reference(
        "arff-foam-test",
        "fire-vehicle training text after NFPA 412",
        2010,
        "Expansion and 25 % drainage by the weighed container",
        "procedure: 30 s readings, interpolated",
        "read",
    ),
    Reference(
        "astm-c796",
        "ASTM",
        2019,
        "Standard test method for foaming agents for use in producing cellular concrete using preformed foam",
        "ASTM C796/C796M-19; structure of the formulas written from memory, consistent with C869",
        "recalled",
    ),
    Reference(
        "astm-c869",
        "ASTM",
        1999,
        "Standard specification for foaming agents used in making preformed foam for cellular concrete",
        "ASTM C869-91 (1999), Table 1 and its footnote on bound water",
        "read",
    ),
    Reference(
        "absolute-volume",
        "ACI Committee 523",
        2014,
        "Guide for cellular concretes above 50 lb/ft3, absolute volume proportioning",
        "ACI 523.3R-14; the method only, no figure of it",
        "second-hand",
    ),
    # concrete in its form
    Reference(
        "bentz-2007",
        "D. P. Bentz",
        2007,
        "Transient plane source measurements of the thermal properties of hydrating cement pastes",
        "Materials and Structures 40, 1073-1080; heat capacities 0.75 and 4.18 kJ/(kg K), 1.92 measured at w/c 0.5",
        "read",
    ),
    Reference(
        "pca-heat",
        "S. H. Kosmatka, B. Kerkhoff, W. C. Panarese",
        2002,
        "Design and Control of Concrete Mixtures, 14th edition: heat of hydration of portland cements by type",
        "Portland Cement Association, ch. 2; 349 kJ/kg is the mean of type I after 7 days",
        "recalled",
    ),
    Reference(
        "aci-347",
        "ACI Committee 347",
        2004,
        "Guide to formwork for concrete: full liquid head p = w h for concrete that flows",
        "ACI 347-04, section 2.2.2, as quoted by M. K. Hurd in Concrete Construction",
        "second-hand",
    ),
    # safety
    Reference(
        "osha-1910.95",
        "Occupational Safety and Health Administration",
        1983,
        "Occupational noise exposure",
        "29 CFR 1910.95, appendix A",
        "read",
    ),
    Reference(
        "niosh-1998",
        "National Institute for Occupational Safety and Health",
        1998,
        "Criteria for a recommended standard: occupational noise exposure",
        "DHHS (NIOSH) 98-126",
        "second-hand",
    ),
    Reference(
        "osha-pvc",
        "Occupational Safety and Health Administration",
        1990,
        "Use of polyvinyl chloride pipe in above-ground installations",
        "hazard information bulletin of 13 December 1990",
        "read",
    ),
    Reference(
        "pvc-derating",
        "makers of PVC pipe",
        2020,
        "Highest service temperature of PVC pipe, 60 °C (140 °F), and its pressure rating there, 0.22 of that at 23 °C",
        "published tables of derating of two makers",
        "read",
    ),
    Reference(
        "nfpa-70",
        "National Fire Protection Association",
        2020,
        "National Electrical Code, definition of a class A ground-fault circuit interrupter",
        "NFPA 70, article 100, as quoted in a glossary",
        "second-hand",
    ),
    Reference("statics", "Frothline", 2026, "Force is pressure times area", "algebra", "own"),
    Reference(
        "thermodynamics",
        "Frothline",
        2026,
        "Isothermal work of a perfect gas against the atmosphere",
        "integral worked in the docstring",
        "own",
    ),
)

BIBLIOGRAPHY: dict[str, Reference] = {entry.key: entry for entry in _ENTRIES}
