//! What stands in for a dictionary: common misspellings, and real words that look like misspelt terms.

use foldhash::{HashMap, HashSet};
use std::sync::LazyLock;

/// Common misspellings of words of the test stand, with the right spelling.
#[rustfmt::skip]
const MISSPELT: &[(&str, &str)] = &[
    ("absorbtion", "absorption"), ("accomodate", "accommodate"), ("acommodate", "accommodate"), ("accross", "across"), ("accuator", "actuator"),
    ("acheive", "achieve"), ("acknowlege", "acknowledge"), ("acomplish", "accomplish"), ("aquire", "acquire"), ("actuater", "actuator"),
    ("acutator", "actuator"), ("adress", "address"), ("agressive", "aggressive"), ("alowable", "allowable"), ("aluminun", "aluminium"),
    ("ambiant", "ambient"), ("ammount", "amount"), ("anual", "annual"), ("apparant", "apparent"), ("appropiate", "appropriate"),
    ("asembly", "assembly"), ("assemby", "assembly"), ("atmoshpere", "atmosphere"), ("automaticaly", "automatically"),
    ("availible", "available"), ("begining", "beginning"), ("beleive", "believe"), ("calender", "calendar"), ("calibraton", "calibration"),
    ("callibrate", "calibrate"), ("callibration", "calibration"), ("catagory", "category"), ("cavitity", "cavity"), ("cilinder", "cylinder"),
    ("clearence", "clearance"), ("comming", "coming"), ("commited", "committed"), ("compatable", "compatible"),
    ("compatability", "compatibility"), ("componant", "component"), ("componet", "component"), ("conditon", "condition"),
    ("condtion", "condition"), ("connecter", "connector"), ("consistant", "consistent"), ("controled", "controlled"),
    ("controler", "controller"), ("cryogentic", "cryogenic"), ("cyrogenic", "cryogenic"), ("currrent", "current"), ("dependant", "dependent"),
    ("desgin", "design"), ("diamater", "diameter"), ("diameteer", "diameter"), ("diffrential", "differential"), ("disconect", "disconnect"),
    ("durring", "during"), ("elctrical", "electrical"), ("enviroment", "environment"), ("equiped", "equipped"), ("equipement", "equipment"),
    ("excede", "exceed"), ("exeed", "exceed"), ("existance", "existence"), ("flamable", "flammable"), ("freqency", "frequency"),
    ("guage", "gauge"), ("guarentee", "guarantee"), ("heigth", "height"), ("hydralic", "hydraulic"), ("hydrolic", "hydraulic"),
    ("independant", "independent"), ("indentify", "identify"), ("inital", "initial"), ("interupt", "interrupt"), ("inteface", "interface"),
    ("isolater", "isolator"), ("lable", "label"), ("leakege", "leakage"), ("leackage", "leakage"), ("lenght", "length"), ("liason", "liaison"),
    ("liqiud", "liquid"), ("lubricent", "lubricant"), ("maintainance", "maintenance"), ("maintenence", "maintenance"), ("manifol", "manifold"),
    ("maximun", "maximum"), ("maxium", "maximum"), ("mesure", "measure"), ("mesurement", "measurement"), ("minumum", "minimum"),
    ("minimun", "minimum"), ("necesary", "necessary"), ("neccessary", "necessary"), ("nitogen", "nitrogen"), ("nitrogren", "nitrogen"),
    ("nozle", "nozzle"), ("occured", "occurred"), ("occurence", "occurrence"), ("occurrance", "occurrence"), ("occassion", "occasion"),
    ("oxgen", "oxygen"), ("oxigen", "oxygen"), ("oxydizer", "oxidizer"), ("oxidiser", "oxidizer"), ("paramater", "parameter"),
    ("permanant", "permanent"), ("pnuematic", "pneumatic"), ("pnumatic", "pneumatic"), ("postion", "position"), ("posistion", "position"),
    ("preceed", "precede"), ("preceeding", "preceding"), ("pressue", "pressure"), ("presure", "pressure"), ("pressurre", "pressure"),
    ("proceedure", "procedure"), ("procedue", "procedure"), ("propelant", "propellant"), ("propellent", "propellant"),
    ("qualifcation", "qualification"), ("recieve", "receive"), ("recieved", "received"), ("recomend", "recommend"), ("refered", "referred"),
    ("regualtor", "regulator"), ("relavant", "relevant"), ("releive", "relieve"), ("reqirement", "requirement"), ("requirment", "requirement"),
    ("resistence", "resistance"), ("rotery", "rotary"), ("seperate", "separate"), ("seperately", "separately"), ("seperation", "separation"),
    ("serivce", "service"), ("shal", "shall"), ("shedule", "schedule"), ("similiar", "similar"), ("specifed", "specified"),
    ("stainles", "stainless"), ("suply", "supply"), ("suported", "supported"), ("surfice", "surface"), ("swich", "switch"),
    ("tempature", "temperature"), ("temperture", "temperature"), ("tempreture", "temperature"), ("teh", "the"), ("tempurature", "temperature"),
    ("thier", "their"), ("threshhold", "threshold"), ("tolerence", "tolerance"), ("torqe", "torque"), ("transfered", "transferred"),
    ("transmiter", "transmitter"), ("untill", "until"), ("vaccum", "vacuum"), ("vacum", "vacuum"), ("vavle", "valve"), ("vlave", "valve"),
    ("verfication", "verification"), ("verifcation", "verification"), ("vibraton", "vibration"), ("visable", "visible"), ("volatge", "voltage"),
    ("weigth", "weight"), ("whith", "with"), ("wich", "which"), ("withing", "within"), ("withstant", "withstand"), ("witdh", "width"),
];

/// Ordinary words that lie one or two letters from a likely term of a glossary; without a dictionary, only a list tells them from misspellings.
#[rustfmt::skip]
const REAL_WORDS: &[&str] = &[
    "abating", "abrasion", "absorber", "absorption", "acceptance", "accepted", "adsorber", "adsorption", "actuate", "actuated", "actuates",
    "actuation", "adapter", "adaptor", "affected", "effected", "altered", "bearing", "bearings", "boiling", "boring", "bolting", "casing",
    "ceasing", "coating", "collection", "commission", "compression", "computer", "condense", "condition", "conditions", "confirm", "conform",
    "conduct", "conductor", "connection", "connector", "contact", "contain", "container", "contract", "contracted", "contraction", "control",
    "controls", "convection", "conversion", "cooling", "coupling", "correction", "corrosion", "counter", "country", "covered", "decline",
    "deflection", "detection", "detector", "deviation", "diffuser", "direction", "discharge", "distance", "diversion", "division", "elevation",
    "emission", "erosion", "evaluation", "expansion", "explosion", "exposed", "extension", "extrusion", "filling", "filtering", "fitting",
    "flowing", "forging", "formation", "function", "functions", "heating", "holding", "igniter", "induction", "injection", "injector",
    "inspection", "instance", "insulation", "intension", "intention", "isolation", "jacking", "junction", "leaking", "leveling", "loading",
    "locking", "marking", "material", "materiel", "metering", "monitor", "mounting", "nitrate", "nitride", "operation", "operator", "oriented",
    "oxidant", "oxidation", "oxidize", "packing", "parking", "passage", "passing", "pitting", "planting", "plating", "position", "positive",
    "precision", "prescribed", "preserve", "pressure", "pressured", "previous", "principal", "principle", "production", "projection",
    "protection", "provision", "pumping", "purging", "pushing", "quality", "quantity", "ratings", "reaction", "reading", "receiver", "reception",
    "reduced", "reducer", "reduction", "reflection", "rejection", "relation", "relieve", "repeater", "reserve", "resistor", "resolution",
    "restrain", "restraint", "retain", "retainer", "revision", "revolution", "rotation", "routing", "running", "rupture", "sealant", "sealing",
    "seating", "section", "sections", "selection", "sensing", "service", "setting", "settling", "shutting", "sliding", "solution", "stainless",
    "station", "statistic", "steering", "stopping", "stroking", "suction", "surface", "switched", "switches", "taping", "tapping", "tension",
    "testing", "thermal", "through", "thorough", "traction", "transient", "transmission", "transition", "turbine", "turning", "variation",
    "venting", "version", "vibrator", "welding", "winding", "working", "moisture", "mixture", "nothing", "notching", "starting", "sterling",
    "stirring", "striking", "spraying", "spacing", "shipping",
];

/// The right spelling of a word of [`MISSPELT`].
pub(super) fn right_spelling(word: &str) -> Option<&'static str> {
    static SPELLINGS: LazyLock<HashMap<&str, &str>> = LazyLock::new(|| MISSPELT.iter().copied().collect());
    SPELLINGS.get(word).copied()
}

/// Whether this is one of [`REAL_WORDS`].
pub(super) fn is_real_word(word: &str) -> bool {
    static REAL: LazyLock<HashSet<&str>> = LazyLock::new(|| REAL_WORDS.iter().copied().collect());
    REAL.contains(word)
}
