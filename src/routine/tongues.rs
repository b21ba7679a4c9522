//! Sheets typed in other languages: the words for feet, turns and counts are set in English. Names of steps are English
//! everywhere; those of parts stay as they are typed.

use std::collections::HashSet;

use super::line::{Line, Piece};
use super::words::runs;

/// Distinct words of a language that make a sheet one in it.
const FEWEST_WORDS: usize = 3;

/// A language: its words, in small letters, and what they are in English. A phrase stands before its words.
type Tongue = &'static [(&'static str, &'static str)];

const GERMAN: Tongue = &[
    ("am platz", "in place"),
    ("auf der stelle", "in place"),
    ("noch mal", "again"),
    ("das gleiche", "same"),
    ("musik", "music"),
    ("lied", "song"),
    ("titel", "title"),
    ("choreografie", "choreography"),
    ("choreographie", "choreography"),
    ("niveau", "level"),
    ("schwierigkeit", "level"),
    ("takte", "bars"),
    ("takten", "bars"),
    ("schläge", "counts"),
    ("zählzeiten", "counts"),
    ("warten", "wait"),
    ("fuß", "foot"),
    ("fuss", "foot"),
    ("linker", "left"),
    ("linken", "left"),
    ("links", "left"),
    ("rechter", "right"),
    ("rechten", "right"),
    ("rechts", "right"),
    ("teile", "parts"),
    ("reihenfolge", "order"),
    ("ablauf", "order"),
    ("wiederholen", "repeat"),
    ("wiederholung", "repeat"),
    ("noch", "repeat all"),
    ("drehung", "turn"),
    ("drehen", "turn"),
    ("umdrehung", "turn"),
    ("ganze", "full"),
    ("halbe", "1/2"),
    ("viertel", "1/4"),
    ("vorwärts", "forward"),
    ("rückwärts", "back"),
    ("seite", "side"),
    ("vorne", "front"),
    ("hinten", "back"),
    ("mal", "times"),
    ("wie", "same as"),
    ("und", "and"),
    ("dann", "then"),
    ("danach", "then"),
    ("alles", "all"),
    ("anderer", "other"),
    ("anderem", "other"),
    ("jeweils", "each"),
    ("jedes mal", "each time"),
    ("je", "each"),
    ("nach links", "left"),
    ("nach rechts", "right"),
    ("das ganze noch einmal", "repeat all"),
    ("noch einmal", "again"),
    ("einsatz nach", "wait"),
    ("schlägen", "counts"),
    ("beginnt", "starts"),
    ("klatschen", "clap"),
    ("stampfen", "stomp"),
    ("jede", "each"),
    ("bis", "until"),
    ("li", "left"),
    ("re", "right"),
    ("pro", "each"),
    ("vorw", "forward"),
    ("rückw", "back"),
    ("wdh", "repeat"),
];

const FRENCH: Tongue = &[
    ("sur place", "in place"),
    ("en avançant", "forward"),
    ("en reculant", "back"),
    ("on attend", "wait"),
    ("on tape des mains", "clap"),
    ("on frappe dans les mains", "clap"),
    ("de tour", "turn"),
    ("la même chose", "same"),
    ("comme", "same as"),
    ("musique", "music"),
    ("chanson", "song"),
    ("titre", "title"),
    ("chorégraphie", "choreography"),
    ("chorégraphe", "choreographer"),
    ("niveau", "level"),
    ("temps", "counts"),
    ("comptes", "counts"),
    ("mesures", "measures"),
    ("attendre", "wait"),
    ("attente", "wait"),
    ("pied", "foot"),
    ("à", "to"),
    ("deux", "two"),
    ("trois", "three"),
    ("quatre", "four"),
    ("huit", "eight"),
    ("encore une fois", "repeat all"),
    ("de l'autre pied", "on the other foot"),
    ("un quart de tour", "1/4 turn"),
    ("un demi-tour", "1/2 turn"),
    ("cette fois", ""),
    ("recommencer", "repeat"),
    ("à gauche", "left"),
    ("à droite", "right"),
    ("gauche", "left"),
    ("droite", "right"),
    ("droit", "right"),
    ("ordre", "order"),
    ("enchaînement", "order"),
    ("répéter", "repeat"),
    ("répétez", "repeat"),
    ("reprendre", "repeat"),
    ("tour", "turn"),
    ("demi", "1/2"),
    ("quart", "1/4"),
    ("complet", "full"),
    ("chacun", "each"),
    ("chaque", "each"),
    ("fois", "times"),
    ("puis", "then"),
    ("et", "and"),
    ("avant", "forward"),
    ("arrière", "back"),
    ("autre", "other"),
    ("frapper des mains", "clap"),
    ("taper des mains", "clap"),
    ("frapper du pied", "stomp"),
    ("taper du pied", "stomp"),
    ("dans les mains", ""),
    ("des mains", ""),
    ("frapper", "clap"),
    ("frappez", "clap"),
    ("mur", "wall"),
];

const SWEDISH: Tongue = &[
    ("på plats", "in place"),
    ("på stället", "in place"),
    ("samma som", "same as"),
    ("musik", "music"),
    ("låt", "song"),
    ("titel", "title"),
    ("koreografi", "choreography"),
    ("koreograf", "choreographer"),
    ("nivå", "level"),
    ("takter", "bars"),
    ("räkningar", "counts"),
    ("slag", "counts"),
    ("vänta", "wait"),
    ("fot", "foot"),
    ("foten", "foot"),
    ("vänster", "left"),
    ("höger", "right"),
    ("ordning", "order"),
    ("ordningsföljd", "order"),
    ("upprepa", "repeat"),
    ("varv", "turn"),
    ("helt", "full"),
    ("halvt", "1/2"),
    ("kvarts", "1/4"),
    ("framåt", "forward"),
    ("bakåt", "back"),
    ("gånger", "times"),
    ("sedan", "then"),
    ("och", "and"),
    ("andra", "other"),
    ("varje", "each"),
    ("per", "each"),
    ("vä", "left"),
    ("hö", "right"),
];

/// Danish, with the words that Norwegian has otherwise.
const DANISH: Tongue = &[
    ("på stedet", "in place"),
    ("på plads", "in place"),
    ("på plass", "in place"),
    ("samme som", "same as"),
    ("hver gang", "each time"),
    ("om igen", "again"),
    ("musik", "music"),
    ("musikk", "music"),
    ("sang", "song"),
    ("titel", "title"),
    ("tittel", "title"),
    ("koreografi", "choreography"),
    ("koreograf", "choreographer"),
    ("niveau", "level"),
    ("nivå", "level"),
    ("takter", "bars"),
    ("taktslag", "counts"),
    ("tællinger", "counts"),
    ("slag", "counts"),
    ("vent", "wait"),
    ("fod", "foot"),
    ("fot", "foot"),
    ("venstre", "left"),
    ("højre", "right"),
    ("høyre", "right"),
    ("til", "to"),
    ("rækkefølge", "order"),
    ("rekkefølge", "order"),
    ("gentag", "repeat"),
    ("gjenta", "repeat"),
    ("omgang", "turn"),
    ("drejning", "turn"),
    ("drej", "turn"),
    ("vending", "turn"),
    ("hel", "full"),
    ("halv", "1/2"),
    ("kvart", "1/4"),
    ("fremad", "forward"),
    ("frem", "forward"),
    ("tilbage", "back"),
    ("tilbake", "back"),
    ("gå-trin", "walks"),
    ("gåtrin", "walks"),
    ("i alt", "in all"),
    ("gå", "walk"),
    ("skridt", "steps"),
    ("klap", "clap"),
    ("klapp", "clap"),
    ("tramp", "stomp"),
    ("gange", "times"),
    ("ganger", "times"),
    ("derefter", "then"),
    ("deretter", "then"),
    ("og", "and"),
    ("anden", "other"),
    ("hver", "each"),
];

const DUTCH: Tongue = &[
    ("op de plaats", "in place"),
    ("zelfde als", "same as"),
    ("muziek", "music"),
    ("liedje", "song"),
    ("titel", "title"),
    ("choreografie", "choreography"),
    ("niveau", "level"),
    ("tellen", "counts"),
    ("maten", "bars"),
    ("wachten", "wait"),
    ("wacht", "wait"),
    ("voet", "foot"),
    ("linker", "left"),
    ("linkervoet", "left foot"),
    ("links", "left"),
    ("rechter", "right"),
    ("rechtervoet", "right foot"),
    ("rechts", "right"),
    ("volgorde", "order"),
    ("herhaal", "repeat"),
    ("herhalen", "repeat"),
    ("draai", "turn"),
    ("hele", "full"),
    ("halve", "1/2"),
    ("kwart", "1/4"),
    ("vooruit", "forward"),
    ("achteruit", "back"),
    ("keer", "times"),
    ("dan", "then"),
    ("andere", "other"),
    ("elke", "each"),
    ("per", "each"),
    ("li", "left"),
    ("re", "right"),
];

const SPANISH: Tongue = &[
    ("en el sitio", "in place"),
    ("igual que", "same as"),
    ("música", "music"),
    ("canción", "song"),
    ("título", "title"),
    ("coreografía", "choreography"),
    ("nivel", "level"),
    ("tiempos", "counts"),
    ("cuentas", "counts"),
    ("compases", "bars"),
    ("esperar", "wait"),
    ("espera", "wait"),
    ("pie", "foot"),
    ("izquierda", "left"),
    ("izquierdo", "left"),
    ("derecha", "right"),
    ("derecho", "right"),
    ("orden", "order"),
    ("repetir", "repeat"),
    ("repite", "repeat"),
    ("vuelta", "turn"),
    ("giro", "turn"),
    ("media", "1/2"),
    ("medio", "1/2"),
    ("cuarto", "1/4"),
    ("completa", "full"),
    ("entera", "full"),
    ("adelante", "forward"),
    ("atrás", "back"),
    ("veces", "times"),
    ("luego", "then"),
    ("cada", "each"),
    ("otro", "other"),
    ("por", "each"),
    ("izq", "left"),
    ("dcha", "right"),
];

/// Words that stand in English sheets too, or in many languages.
const COMMON: &[&str] = &[
    "li", "re", "pro", "per", "por", "refrain", "tour", "pie", "media", "dan", "slot", "et", "fin",
    "quart", "mal", "wie", "slag", "del", "fot", "fod", "vent", "til", "hel", "og", "sang", "frem",
    "gange", "tramp", "je", "das",
];

/// Sets a sheet in another language in English, as far as the words that matter go.
pub(super) fn set_in_english(lines: &mut [Line<'_>]) {
    let said: HashSet<String> = lines
        .iter()
        .flat_map(|line| {
            runs(&line.text, char::is_alphabetic).into_iter().map(|r| word(&line.text, r))
        })
        .collect();
    let known = |tongue: &Tongue| {
        tongue.iter().filter(|(w, _)| said.contains(*w) && !COMMON.contains(w)).count()
    };
    let most = [GERMAN, FRENCH, SWEDISH, DANISH, DUTCH, SPANISH].into_iter().max_by_key(known);
    let Some(tongue) = most.filter(|tongue| known(tongue) >= FEWEST_WORDS) else { return };
    for line in lines {
        in_english(line, tongue);
    }
}

fn word(text: &str, (from, to): (usize, usize)) -> String {
    text[from..to].to_lowercase()
}

fn in_english(line: &mut Line<'_>, tongue: Tongue) {
    let text = line.text.clone();
    let words = runs(&text, char::is_alphabetic);
    let mut pieces: Vec<Piece<'_>> = Vec::new();
    let (mut kept, mut i) = (0, 0);
    while let Some(&(from, _)) = words.get(i) {
        let phrase = |n: usize| {
            let last = words.get(i + n - 1)?;
            let typed = text.get(from..last.1)?.to_lowercase();
            let (_, english) = tongue.iter().find(|(word, _)| *word == typed)?;
            Some((n, last.1, *english))
        };
        match (1..=3).rev().find_map(phrase) {
            Some((n, to, english)) => {
                pieces.extend([Piece::Kept(kept, from), Piece::Put(english, from)]);
                (kept, i) = (to, i + n);
            }
            None => i += 1,
        }
    }
    if !pieces.is_empty() {
        pieces.push(Piece::Kept(kept, text.len()));
        line.set(&pieces);
    }
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    #[test]
    fn sheets_of_other_languages_are_set_in_english() {
        let sheet = ["Teil A", "2 Triple, ganze Drehung links", "Reihenfolge: A B"];
        let wanted = ["Teil A", "2 Triple, full turn left", "order: A B"];
        assert_eq!(set_by(set_in_english, &sheet), wanted);
        let sheet = ["Couplet (32 temps)", "2 Chain, 1/4 de tour à gauche", "Ordre : Couplet"];
        let wanted = ["Couplet (32 counts)", "2 Chain, 1/4 turn left", "order : Couplet"];
        assert_eq!(set_by(set_in_english, &sheet), wanted);
        let sheet = ["Vent 16 slag", "2 Chain, 1/4 til højre hver gang", "Rækkefølge: Vers"];
        let wanted = ["wait 16 counts", "2 Chain, 1/4 to right each time", "order: Vers"];
        assert_eq!(set_by(set_in_english, &sheet), wanted);
        let english = ["Refrain (32)", "2 Triple", "Tour of the hall"];
        assert_eq!(set_by(set_in_english, &english), english);
    }
}
