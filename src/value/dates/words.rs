//! What dates are written with beside figures, in five languages, and what each word may mean.
//!
//! All of it is common practice of the typing and filing trade, gathered here without a source. In a phrase, a full
//! stop may be left out when typed, with or without a blank behind it, and so may every accent.

use serde::{Deserialize, Serialize};

/// A language whose month names and other words of dates are understood.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Language {
    English,
    German,
    French,
    Spanish,
    Dutch,
}

impl Language {
    pub const ALL: [Self; 5] = [
        Self::English,
        Self::German,
        Self::French,
        Self::Spanish,
        Self::Dutch,
    ];

    pub(super) fn words(self) -> &'static [(Sense, &'static [&'static str])] {
        match self {
            Self::English => ENGLISH,
            Self::German => GERMAN,
            Self::French => FRENCH,
            Self::Spanish => SPANISH,
            Self::Dutch => DUTCH,
        }
    }
}

/// What a word may stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sense {
    /// 1 to 12.
    Month(i8),
    /// EDTF 21 to 24: spring, summer, autumn, winter.
    Season(i8),
    /// Stands beside 1 to 4.
    Quarter,
    /// Stands beside 1 or 2.
    Half,
    /// A school or fiscal year, or several of them.
    Fiscal,
    About,
    /// Before the first date of a range.
    From,
    /// Between the dates of a range.
    To,
    /// Before a date that ends a range without a beginning.
    UpTo,
    /// Behind a date that begins a range without an end.
    Onward,
    Before,
    After,
    /// Before two dates that an "and" joins.
    Between,
    And,
    /// Between day, month and year.
    Of,
    /// Behind the figures of a day.
    Ordinal,
    /// Behind the first year of ten.
    Decade,
    /// Before the first year of ten.
    Decades,
    /// No date was known.
    Unknown,
}

/// All that one word or phrase may stand for, in the languages of a style.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Senses(u64);

impl Senses {
    pub(super) fn with(self, sense: Sense) -> Self {
        Self(self.0 | 1 << sense.place())
    }

    pub(super) fn has(self, sense: Sense) -> bool {
        self.0 & 1 << sense.place() != 0
    }

    pub(super) fn month(self) -> Option<i8> {
        (1..=12).find(|&month| self.has(Sense::Month(month)))
    }

    pub(super) fn season(self) -> Option<i8> {
        (21..=24).find(|&season| self.has(Sense::Season(season)))
    }
}

impl Sense {
    fn place(self) -> u32 {
        match self {
            Self::Month(month) => month as u32,
            Self::Season(season) => season as u32,
            Self::Quarter => 32,
            Self::Half => 33,
            Self::Fiscal => 34,
            Self::About => 35,
            Self::From => 36,
            Self::To => 37,
            Self::UpTo => 38,
            Self::Onward => 39,
            Self::Before => 40,
            Self::After => 41,
            Self::Between => 42,
            Self::And => 43,
            Self::Of => 44,
            Self::Ordinal => 45,
            Self::Decade => 46,
            Self::Unknown => 47,
            Self::Decades => 48,
        }
    }
}

type Words = &'static [(Sense, &'static [&'static str])];

const ENGLISH: Words = &[
    (Sense::Month(1), &["JAN", "JANUARY"]),
    (Sense::Month(2), &["FEB", "FEBRUARY"]),
    (Sense::Month(3), &["MAR", "MARCH"]),
    (Sense::Month(4), &["APR", "APRIL"]),
    (Sense::Month(5), &["MAY"]),
    (Sense::Month(6), &["JUN", "JUNE"]),
    (Sense::Month(7), &["JUL", "JULY"]),
    (Sense::Month(8), &["AUG", "AUGUST"]),
    (Sense::Month(9), &["SEP", "SEPT", "SEPTEMBER"]),
    (Sense::Month(10), &["OCT", "OCTOBER"]),
    (Sense::Month(11), &["NOV", "NOVEMBER"]),
    (Sense::Month(12), &["DEC", "DECEMBER"]),
    (Sense::Season(21), &["SPRING"]),
    (Sense::Season(22), &["SUMMER"]),
    (Sense::Season(23), &["AUTUMN", "FALL"]),
    (Sense::Season(24), &["WINTER"]),
    (Sense::Quarter, &["Q", "QTR", "QUARTER"]),
    (Sense::Half, &["H", "HALF"]),
    (Sense::Fiscal, &["F.Y.", "FISCAL YEAR", "SCHOOL YEAR"]),
    (Sense::About, &["C.", "CA.", "CIRCA", "ABOUT", "APPROX."]),
    (Sense::From, &["FROM", "SINCE"]),
    (Sense::To, &["TO", "THRU", "THROUGH", "UNTIL"]),
    (Sense::UpTo, &["TO", "UP TO", "UNTIL", "TILL"]),
    (
        Sense::Onward,
        &["TO PRESENT", "TO DATE", "ON", "ONWARD", "ONWARDS"],
    ),
    (Sense::Before, &["BEFORE"]),
    (Sense::After, &["AFTER"]),
    (Sense::Between, &["BETWEEN"]),
    (Sense::And, &["AND", "&"]),
    (Sense::Of, &["OF"]),
    (Sense::Ordinal, &["ST", "ND", "RD", "TH"]),
    (Sense::Decade, &["S", "'S"]),
    (Sense::Unknown, &["N.D.", "S.D.", "UNDATED", "NO DATE"]),
];

const GERMAN: Words = &[
    (Sense::Month(1), &["JAN", "JANUAR", "JÄNNER", "JAENNER"]),
    (Sense::Month(2), &["FEB", "FEBR", "FEBRUAR"]),
    (Sense::Month(3), &["MÄR", "MÄRZ", "MAERZ", "MRZ"]),
    (Sense::Month(4), &["APR", "APRIL"]),
    (Sense::Month(5), &["MAI"]),
    (Sense::Month(6), &["JUN", "JUNI"]),
    (Sense::Month(7), &["JUL", "JULI"]),
    (Sense::Month(8), &["AUG", "AUGUST"]),
    (Sense::Month(9), &["SEP", "SEPT", "SEPTEMBER"]),
    (Sense::Month(10), &["OKT", "OKTOBER"]),
    (Sense::Month(11), &["NOV", "NOVEMBER"]),
    (Sense::Month(12), &["DEZ", "DEZEMBER"]),
    (
        Sense::Season(21),
        &["FRÜHLING", "FRUEHLING", "FRÜHJAHR", "FRUEHJAHR"],
    ),
    (Sense::Season(22), &["SOMMER"]),
    (Sense::Season(23), &["HERBST"]),
    (Sense::Season(24), &["WINTER"]),
    (Sense::Quarter, &["Q", "QUARTAL", "VJ", "VIERTELJAHR"]),
    (Sense::Half, &["HJ", "HALBJAHR"]),
    (Sense::Fiscal, &["GJ", "GESCHÄFTSJAHR", "SCHULJAHR"]),
    (Sense::About, &["C.", "CA.", "CIRCA", "UM", "ETWA"]),
    (Sense::From, &["VON", "AB", "SEIT"]),
    (Sense::To, &["BIS"]),
    (Sense::UpTo, &["BIS"]),
    (Sense::Onward, &["BIS HEUTE", "FF."]),
    (Sense::Before, &["VOR"]),
    (Sense::After, &["NACH"]),
    (Sense::Between, &["ZWISCHEN"]),
    (Sense::And, &["UND", "U."]),
    (Sense::Decade, &["ER"]),
    (Sense::Unknown, &["O.J.", "O.D.", "OHNE JAHR", "UNDATIERT"]),
];

const FRENCH: Words = &[
    (Sense::Month(1), &["JAN", "JANV", "JANVIER"]),
    (Sense::Month(2), &["FÉV", "FÉVR", "FÉVRIER"]),
    (Sense::Month(3), &["MAR", "MARS"]),
    (Sense::Month(4), &["AVR", "AVRIL"]),
    (Sense::Month(5), &["MAI"]),
    (Sense::Month(6), &["JUIN"]),
    (Sense::Month(7), &["JUIL", "JUILLET"]),
    (Sense::Month(8), &["AOÛT"]),
    (Sense::Month(9), &["SEP", "SEPT", "SEPTEMBRE"]),
    (Sense::Month(10), &["OCT", "OCTOBRE"]),
    (Sense::Month(11), &["NOV", "NOVEMBRE"]),
    (Sense::Month(12), &["DÉC", "DÉCEMBRE"]),
    (Sense::Season(21), &["PRINTEMPS"]),
    (Sense::Season(22), &["ÉTÉ"]),
    (Sense::Season(23), &["AUTOMNE"]),
    (Sense::Season(24), &["HIVER"]),
    (Sense::Quarter, &["T", "TRIM", "TRIMESTRE"]),
    (Sense::Half, &["S", "SEMESTRE"]),
    (Sense::Fiscal, &["EXERCICE", "ANNÉE SCOLAIRE"]),
    (Sense::About, &["C.", "CA.", "VERS", "ENV.", "ENVIRON"]),
    (Sense::From, &["DE", "DU", "DEPUIS"]),
    (Sense::To, &["À", "AU"]),
    (Sense::UpTo, &["À", "AU", "JUSQU'À", "JUSQU'AU", "JUSQU'EN"]),
    (Sense::Onward, &["À CE JOUR"]),
    (Sense::Before, &["AVANT"]),
    (Sense::After, &["APRÈS"]),
    (Sense::Between, &["ENTRE"]),
    (Sense::And, &["ET"]),
    (Sense::Of, &["DE"]),
    (Sense::Ordinal, &["ER", "RE", "E", "EME", "ÈME"]),
    (Sense::Decades, &["ANNÉES"]),
    (Sense::Unknown, &["S.D.", "S.A.", "SANS DATE"]),
];

const SPANISH: Words = &[
    (Sense::Month(1), &["ENE", "ENERO"]),
    (Sense::Month(2), &["FEB", "FEBRERO"]),
    (Sense::Month(3), &["MAR", "MARZO"]),
    (Sense::Month(4), &["ABR", "ABRIL"]),
    (Sense::Month(5), &["MAY", "MAYO"]),
    (Sense::Month(6), &["JUN", "JUNIO"]),
    (Sense::Month(7), &["JUL", "JULIO"]),
    (Sense::Month(8), &["AGO", "AGOSTO"]),
    (
        Sense::Month(9),
        &["SEP", "SEPT", "SEPTIEMBRE", "SETIEMBRE", "SET"],
    ),
    (Sense::Month(10), &["OCT", "OCTUBRE"]),
    (Sense::Month(11), &["NOV", "NOVIEMBRE"]),
    (Sense::Month(12), &["DIC", "DICIEMBRE"]),
    (Sense::Season(21), &["PRIMAVERA"]),
    (Sense::Season(22), &["VERANO"]),
    (Sense::Season(23), &["OTOÑO"]),
    (Sense::Season(24), &["INVIERNO"]),
    (Sense::Quarter, &["T", "TRIM", "TRIMESTRE"]),
    (Sense::Half, &["S", "SEMESTRE"]),
    (Sense::Fiscal, &["EJERCICIO", "CURSO"]),
    (Sense::About, &["C.", "CA.", "HACIA", "APROX."]),
    (Sense::From, &["DE", "DEL", "DESDE"]),
    (Sense::To, &["A", "AL", "HASTA"]),
    (Sense::UpTo, &["HASTA"]),
    (Sense::Onward, &["A LA FECHA", "EN ADELANTE"]),
    (Sense::Before, &["ANTES DE"]),
    (Sense::After, &["DESPUÉS DE"]),
    (Sense::Between, &["ENTRE"]),
    (Sense::And, &["Y"]),
    (Sense::Of, &["DE", "DEL"]),
    (Sense::Ordinal, &["O", "ER"]),
    (Sense::Decades, &["AÑOS"]),
    (Sense::Unknown, &["S.F.", "S.A.", "SIN FECHA"]),
];

const DUTCH: Words = &[
    (Sense::Month(1), &["JAN", "JANUARI"]),
    (Sense::Month(2), &["FEB", "FEBR", "FEBRUARI"]),
    (Sense::Month(3), &["MRT", "MAART"]),
    (Sense::Month(4), &["APR", "APRIL"]),
    (Sense::Month(5), &["MEI"]),
    (Sense::Month(6), &["JUN", "JUNI"]),
    (Sense::Month(7), &["JUL", "JULI"]),
    (Sense::Month(8), &["AUG", "AUGUSTUS"]),
    (Sense::Month(9), &["SEP", "SEPT", "SEPTEMBER"]),
    (Sense::Month(10), &["OKT", "OKTOBER"]),
    (Sense::Month(11), &["NOV", "NOVEMBER"]),
    (Sense::Month(12), &["DEC", "DECEMBER"]),
    (Sense::Season(21), &["LENTE", "VOORJAAR"]),
    (Sense::Season(22), &["ZOMER"]),
    (Sense::Season(23), &["HERFST", "NAJAAR"]),
    (Sense::Season(24), &["WINTER"]),
    (Sense::Quarter, &["K", "KW", "KWARTAAL"]),
    (Sense::Half, &["HJ", "HALFJAAR"]),
    (Sense::Fiscal, &["BOEKJAAR", "SCHOOLJAAR"]),
    (Sense::About, &["C.", "CA.", "CIRCA", "OMSTREEKS"]),
    (Sense::From, &["VAN", "VANAF", "SINDS"]),
    (Sense::To, &["TOT", "T/M", "TOT EN MET"]),
    (Sense::UpTo, &["TOT", "T/M", "TOT EN MET"]),
    (Sense::Onward, &["TOT HEDEN", "E.V."]),
    (Sense::Before, &["VOOR"]),
    (Sense::After, &["NA"]),
    (Sense::Between, &["TUSSEN"]),
    (Sense::And, &["EN"]),
    (Sense::Ordinal, &["E", "DE", "STE"]),
    (Sense::Decades, &["JAREN"]),
    (
        Sense::Unknown,
        &["Z.J.", "Z.D.", "ZONDER JAAR", "ONGEDATEERD"],
    ),
];
