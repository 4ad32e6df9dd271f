//! Recursive descent over the words of a formula.
//!
//! Precedence, tightest first (`OpenFormula` 5.5): sign, `%`, `^`, `*` and `/`, `+` and `-`, comparisons; then our NOT, AND
//! and OR. Operators of one level are read into one flat chain, so that the tree is no deeper than the parentheses.

use crate::formula::evaluate::{Scope, evaluate};
use crate::formula::functions::{self, Function};
use crate::formula::lexer::{Lexeme, Mark, Operator, Token, lex};
use crate::formula::{Tree, Value};
use crate::quantity::text::{DecimalSign, Fault, Part, add_part};
use crate::quantity::unit::UnitFactor;
use crate::quantity::{Measure, Ratio, unit};

/// Parentheses, signs and functions within each other go so deep.
const MOST_NESTING: usize = 100;

/// A part of an expression and where it stands.
#[derive(Clone, Debug)]
pub(super) struct Node {
    pub(super) at: usize,
    pub(super) kind: Kind,
}

#[derive(Clone, Debug)]
pub(super) enum Kind {
    Constant(Value),
    /// The index of a name.
    Name(usize),
    Negative(Box<Node>),
    /// A `+` in front: no change, but a number is needed.
    Positive(Box<Node>),
    Not(Box<Node>),
    Percent(Box<Node>),
    /// Operators of one level, applied from left to right.
    Chain(Box<Node>, Vec<Link>),
    Call(Function, Vec<Node>),
}

/// An operator and its right side.
#[derive(Clone, Debug)]
pub(super) struct Link {
    pub(super) operator: Operator,
    pub(super) at: usize,
    pub(super) right: Node,
}

/// Parses the formula that begins at `start`.
pub(super) fn parse(text: &str, start: usize, sign: DecimalSign) -> Result<Tree, Fault> {
    parse_lexemes(text, lex(text, start, sign)?)
}

/// Parses a whole cell that is no measure. A cell of nothing but `92 - 5/8` is refused: it may be meant for `92-5/8`.
pub(super) fn parse_cell(text: &str, start: usize, sign: DecimalSign) -> Result<Tree, Fault> {
    let lexemes = lex(text, start, sign)?;
    if let [whole, minus, numerator, slash, denominator, end] = lexemes.as_slice()
        && minus.token == Token::Operator(Operator::Subtract)
        && slash.token == Token::Operator(Operator::Divide)
        && end.token == Token::End
        && whole.whole().is_some()
        && let (Some(above), Some(below)) = (numerator.whole(), denominator.whole())
        && above < below
    {
        let text = |lexeme: &Lexeme| &text[lexeme.start..lexeme.end];
        let (whole, fraction) = (text(whole), format!("{}/{}", text(numerator), text(denominator)));
        return Err(Fault::new(minus.start, "this may be a mixed fraction or a difference").with_hint(
            format!("write `{whole}-{fraction}` for the mixed fraction, `= {whole} - {fraction}` for the difference"),
        ));
    }
    parse_lexemes(text, lexemes)
}

fn parse_lexemes(text: &str, lexemes: Vec<Lexeme>) -> Result<Tree, Fault> {
    let mut parser = Parser { text, lexemes, at: 0, names: Vec::new(), nesting: 0, lazy: 0 };
    let root = parser.level(Level::Or)?;
    match parser.lexeme().token {
        Token::End => {}
        Token::Close => {
            return Err(Fault::new(parser.lexeme().start, "no `(` stands before this `)`"));
        }
        Token::Semicolon => return Err(stray_semicolon(parser.lexeme().start)),
        _ => return Err(parser.unexpected()),
    }
    if parser.names.is_empty() {
        let value = evaluate(&root, &Scope::EMPTY)?;
        return Ok(Tree {
            root: Node { at: root.at, kind: Kind::Constant(value) },
            names: Vec::new(),
        });
    }
    Ok(Tree { root, names: parser.names })
}

fn stray_semicolon(at: usize) -> Fault {
    Fault::new(at, "`;` parts the arguments of a function only")
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Level {
    Or,
    And,
    Not,
    Comparison,
    Sum,
    Product,
    Power,
    Percent,
    Sign,
}

impl Level {
    const fn tighter(self) -> Level {
        match self {
            Level::Or => Level::And,
            Level::And => Level::Not,
            Level::Not => Level::Comparison,
            Level::Comparison => Level::Sum,
            Level::Sum => Level::Product,
            Level::Product => Level::Power,
            Level::Power => Level::Percent,
            Level::Percent | Level::Sign => Level::Sign,
        }
    }

    fn holds(self, operator: Operator) -> bool {
        match self {
            Level::Or => operator == Operator::Or,
            Level::And => operator == Operator::And,
            Level::Comparison => matches!(
                operator,
                Operator::Equal
                    | Operator::Unequal
                    | Operator::Less
                    | Operator::LessOrEqual
                    | Operator::Greater
                    | Operator::GreaterOrEqual
            ),
            Level::Sum => matches!(operator, Operator::Add | Operator::Subtract),
            Level::Product => matches!(operator, Operator::Multiply | Operator::Divide),
            Level::Power => operator == Operator::Power,
            Level::Not | Level::Percent | Level::Sign => false,
        }
    }
}

struct Parser<'a> {
    text: &'a str,
    lexemes: Vec<Lexeme>,
    at: usize,
    names: Vec<String>,
    nesting: usize,
    /// Above zero within a part that may never be evaluated, such as a branch of IF: its mistakes wait until it is.
    lazy: usize,
}

impl Parser<'_> {
    fn lexeme(&self) -> &Lexeme {
        self.ahead(0)
    }

    /// The word so many places on; the end repeats.
    fn ahead(&self, count: usize) -> &Lexeme {
        let index = (self.at + count).min(self.lexemes.len() - 1);
        &self.lexemes[index]
    }

    fn operator(&self) -> Option<Operator> {
        match self.lexeme().token {
            Token::Operator(operator) => Some(operator),
            _ => None,
        }
    }

    fn unexpected(&self) -> Fault {
        let lexeme = self.lexeme();
        match &lexeme.token {
            Token::End => Fault::new(lexeme.start, "the formula ends too early"),
            Token::Name(_) | Token::Open | Token::Number { .. } if self.at > 0 => {
                let text = &self.text[lexeme.start..lexeme.end];
                Fault::new(lexeme.start, format!("an operator is missing before `{text}`"))
            }
            _ => {
                let text = &self.text[lexeme.start..lexeme.end];
                Fault::new(lexeme.start, format!("`{text}` is not expected here"))
            }
        }
    }

    fn nested<T>(&mut self, inner: impl FnOnce(&mut Self) -> Result<T, Fault>) -> Result<T, Fault> {
        self.nesting += 1;
        if self.nesting > MOST_NESTING {
            return Err(Fault::new(
                self.lexeme().start,
                format!("a formula nests at most {MOST_NESTING} deep"),
            ));
        }
        let result = inner(self);
        self.nesting -= 1;
        result
    }

    fn level(&mut self, level: Level) -> Result<Node, Fault> {
        match level {
            Level::Not => self.not(),
            Level::Percent => self.percent(),
            Level::Sign => self.sign(),
            _ => self.chain(level),
        }
    }

    fn chain(&mut self, level: Level) -> Result<Node, Fault> {
        let first = self.level(level.tighter())?;
        let mut links = Vec::new();
        let is_lazy = matches!(level, Level::Or | Level::And);
        self.lazy += usize::from(is_lazy);
        while let Some(operator) = self.operator().filter(|operator| level.holds(*operator)) {
            let at = self.lexeme().start;
            self.at += 1;
            let right = self.level(level.tighter())?;
            links.push(Link { operator, at, right });
        }
        self.lazy -= usize::from(is_lazy);
        if links.is_empty() {
            return Ok(first);
        }
        let is_constant = first.is_constant() && links.iter().all(|link| link.right.is_constant());
        let node = Node { at: first.at, kind: Kind::Chain(Box::new(first), links) };
        if is_constant { self.folded(node) } else { Ok(node) }
    }

    fn not(&mut self) -> Result<Node, Fault> {
        let at = self.lexeme().start;
        // `NOT(` is the function, whose argument ends at its parenthesis.
        let is_function =
            self.ahead(1).token == Token::Open && self.ahead(1).start == self.lexeme().end;
        if self.operator() != Some(Operator::Not) || is_function {
            return self.level(Level::Comparison);
        }
        self.at += 1;
        let inner = self.nested(Parser::not)?;
        self.wrapped(at, inner, Kind::Not)
    }

    fn percent(&mut self) -> Result<Node, Fault> {
        let inner = self.level(Level::Sign)?;
        if self.lexeme().token != Token::Percent {
            return Ok(inner);
        }
        let at = self.lexeme().start;
        self.at += 1;
        self.wrapped(at, inner, Kind::Percent)
    }

    fn sign(&mut self) -> Result<Node, Fault> {
        let at = self.lexeme().start;
        let wrap = match self.operator() {
            Some(Operator::Subtract) => Kind::Negative,
            Some(Operator::Add) => Kind::Positive,
            _ => return self.operand(),
        };
        self.at += 1;
        let inner = self.nested(Parser::sign)?;
        self.wrapped(at, inner, wrap)
    }

    fn wrapped(
        &mut self,
        at: usize,
        inner: Node,
        wrap: fn(Box<Node>) -> Kind,
    ) -> Result<Node, Fault> {
        let is_constant = inner.is_constant();
        let node = Node { at, kind: wrap(Box::new(inner)) };
        if is_constant { self.folded(node) } else { Ok(node) }
    }

    /// Evaluates a node whose parts are constants; a mistake counts at once unless the part may never be evaluated.
    fn folded(&self, node: Node) -> Result<Node, Fault> {
        match evaluate(&node, &Scope::EMPTY) {
            Ok(value) => Ok(Node { at: node.at, kind: Kind::Constant(value) }),
            Err(_) if self.lazy > 0 => Ok(node),
            Err(fault) => Err(fault),
        }
    }

    fn operand(&mut self) -> Result<Node, Fault> {
        let (start, end) = (self.lexeme().start, self.lexeme().end);
        match &self.lexeme().token {
            Token::Number { .. } => self.literal(),
            Token::Open => {
                self.at += 1;
                let inner = self.nested(|parser| parser.level(Level::Or))?;
                self.close(start)?;
                self.with_unit(inner)
            }
            Token::Name(name) if self.ahead(1).token == Token::Open => {
                let Some(function) = functions::find(name) else {
                    return Err(functions::unknown(start, &self.text[start..end]));
                };
                self.at += 1;
                self.call(function, start)
            }
            Token::Name(name) => {
                let kind = match name.as_str() {
                    "true" => Kind::Constant(Value::Truth(true)),
                    "false" => Kind::Constant(Value::Truth(false)),
                    _ => Kind::Name(self.name_index(name.clone())),
                };
                self.at += 1;
                Ok(Node { at: start, kind })
            }
            Token::Operator(operator @ (Operator::And | Operator::Or | Operator::Not))
                if self.ahead(1).token == Token::Open =>
            {
                let function = match operator {
                    Operator::And => Function::And,
                    Operator::Or => Function::Or,
                    _ => Function::Not,
                };
                self.at += 1;
                self.call(function, start)
            }
            Token::Operator(Operator::And | Operator::Or) => {
                Err(self.unexpected().with_hint("AND and OR join two conditions"))
            }
            Token::Operator(Operator::Not) => {
                Err(self.unexpected().with_hint("write NOT in parentheses: `(NOT ..)`"))
            }
            _ => Err(self.unexpected()),
        }
    }

    fn name_index(&mut self, name: String) -> usize {
        if let Some(index) = self.names.iter().position(|known| *known == name) {
            return index;
        }
        self.names.push(name);
        self.names.len() - 1
    }

    fn close(&mut self, opened: usize) -> Result<(), Fault> {
        match self.lexeme().token {
            Token::Close => {
                self.at += 1;
                Ok(())
            }
            Token::End => Err(Fault::new(opened, "this `(` is never closed")),
            Token::Semicolon => Err(stray_semicolon(self.lexeme().start)),
            _ => Err(self.unexpected()),
        }
    }

    /// Takes the unit after a closing parenthesis: `(92 + 5/8) in`.
    fn with_unit(&mut self, inner: Node) -> Result<Node, Fault> {
        let Token::Unit { unit, .. } = &self.lexeme().token else { return Ok(inner) };
        let one = Measure { value: unit.factor.clone(), dimension: unit.dimension };
        let at = self.lexeme().start;
        self.at += 1;
        let is_constant = inner.is_constant();
        let right = Node { at, kind: Kind::Constant(Value::Measure(one)) };
        let link = Link { operator: Operator::Multiply, at, right };
        let node = Node { at: inner.at, kind: Kind::Chain(Box::new(inner), vec![link]) };
        if is_constant { self.folded(node) } else { Ok(node) }
    }

    fn call(&mut self, function: Function, at: usize) -> Result<Node, Fault> {
        let opened = self.lexeme().start;
        self.at += 1;
        let mut arguments = Vec::new();
        if self.lexeme().token == Token::Close {
            self.at += 1;
        } else {
            loop {
                let is_lazy = function.is_lazy() && !arguments.is_empty();
                self.lazy += usize::from(is_lazy);
                let argument = self.nested(|parser| parser.level(Level::Or))?;
                self.lazy -= usize::from(is_lazy);
                arguments.push(argument);
                if self.lexeme().token != Token::Semicolon {
                    break;
                }
                self.at += 1;
            }
            self.close(opened)?;
        }
        functions::check_count(function, arguments.len(), at)?;
        let is_constant = arguments.iter().all(Node::is_constant);
        let node = Node { at, kind: Kind::Call(function, arguments) };
        let node = if is_constant { self.folded(node)? } else { node };
        self.with_unit(node)
    }

    /// Reads a number with its unit, and feet with inches: `2`, `16 in`, `28' 6"`, `6 ft 2 in`.
    fn literal(&mut self) -> Result<Node, Fault> {
        let at = self.lexeme().start;
        if let Some(mixed) = self.mixed_fraction() {
            let hint = match mixed.difference {
                Some(difference) => {
                    format!("write `{}`, or `{difference}` for a difference", mixed.sum)
                }
                None => format!("write `{}`", mixed.sum),
            };
            return Err(mixed_fraction_fault(at, hint));
        }
        self.refuse_fraction_with_unit()?;
        let Some(mut total) = self.part() else { return self.bare_number() };
        while matches!(self.lexeme().token, Token::Number { .. }) {
            let number = self.lexeme();
            if let Some(mixed) = self.mixed_fraction() {
                let before = self.text[at..number.start].trim_end();
                return Err(mixed_fraction_fault(
                    number.start,
                    format!("write `{before} + {}`", mixed.sum),
                ));
            }
            let text = &self.text[number.start..number.end];
            let fault = Fault::new(number.end, format!("a unit is missing after `{text}`"));
            let Some(part) = self.part() else {
                return Err(if total.is_foot_mark {
                    fault.with_hint(format!("write `{text}\"` for inches"))
                } else {
                    fault
                });
            };
            total = add_part(total, part)?;
        }
        self.refuse_joining_hyphen(total.is_foot_mark)?;
        let measure = Measure { value: total.value, dimension: total.unit.dimension };
        Ok(Node { at, kind: Kind::Constant(Value::Measure(measure)) })
    }

    /// Refuses `1/16 in`, which a reader takes for a sixteenth of an inch and a calculator for one over 16 in.
    fn refuse_fraction_with_unit(&self) -> Result<(), Fault> {
        let [above, slash, below, unit] = [0, 1, 2, 3].map(|count| self.ahead(count));
        let is_fraction = above.whole().is_some()
            && slash.token == Token::Operator(Operator::Divide)
            && below.whole().is_some()
            && above.end == slash.start
            && slash.end == below.start;
        if !is_fraction || !matches!(unit.token, Token::Unit { .. }) {
            return Ok(());
        }
        let text = |lexeme: &Lexeme| &self.text[lexeme.start..lexeme.end];
        let (above_text, below_text) = (text(above), text(below));
        let between = &self.text[below.end..unit.end];
        Err(Fault::new(above.start, "a fraction before a unit can be read in two ways").with_hint(format!(
            "write `({above_text}/{below_text}){between}`, or `{above_text} / {below_text}{between}` for a quotient"
        )))
    }

    fn bare_number(&mut self) -> Result<Node, Fault> {
        let lexeme = self.lexeme().clone();
        let Token::Number { value, .. } = lexeme.token else { return Err(self.unexpected()) };
        self.at += 1;
        if matches!(self.lexeme().token, Token::Number { .. }) {
            return Err(Fault::new(self.lexeme().start, "two numbers stand side by side")
                .with_hint("an operator or a unit is missing between them"));
        }
        Ok(Node { at: lexeme.start, kind: Kind::Constant(Value::Measure(Measure::number(value))) })
    }

    /// Takes a number and its unit; takes nothing if there is no unit.
    fn part(&mut self) -> Option<Part> {
        let at = self.lexeme().start;
        let Token::Number { value, is_whole } = &self.lexeme().token else { return None };
        let Token::Unit { unit, mark } = &self.ahead(1).token else { return None };
        let part = Part {
            value: value * &unit.factor,
            unit: unit.clone(),
            is_whole: *is_whole,
            is_foot_mark: *mark == Mark::Foot,
            at,
        };
        self.at += 2;
        Some(part)
    }

    /// Sees `92-5/8` and `9 1/2`, which a reader takes for one number and a calculator for something else.
    fn mixed_fraction(&self) -> Option<MixedFraction> {
        let hyphen = self.ahead(1);
        let is_hyphened = hyphen.token == Token::Operator(Operator::Subtract)
            && self.lexeme().end == hyphen.start
            && hyphen.end == self.ahead(2).start;
        let first = if is_hyphened { 2 } else { 1 };
        let slash = self.ahead(first + 1);
        let is_fraction = slash.token == Token::Operator(Operator::Divide)
            && self.ahead(first).end == slash.start
            && slash.end == self.ahead(first + 2).start;
        self.lexeme().whole()?;
        let (numerator, denominator) = (self.ahead(first).whole()?, self.ahead(first + 2).whole()?);
        if !is_fraction || (is_hyphened && numerator >= denominator) {
            return None;
        }
        let text = |count: usize| &self.text[self.ahead(count).start..self.ahead(count).end];
        let (whole, fraction) = (text(0), format!("{}/{}", text(first), text(first + 2)));
        let unit = match self.ahead(first + 3).token {
            Token::Unit { mark: Mark::Word, .. } => format!(" {}", text(first + 3)),
            Token::Unit { .. } => text(first + 3).to_owned(),
            _ => String::new(),
        };
        Some(MixedFraction {
            sum: format!("({whole} + {fraction}){unit}"),
            difference: (is_hyphened && unit.is_empty()).then(|| format!("{whole} - {fraction}")),
        })
    }

    /// Refuses `28' - 6"` and `28 ft-6 in`, which drawings write for a sum.
    fn refuse_joining_hyphen(&self, is_foot_mark: bool) -> Result<(), Fault> {
        let before = &self.lexemes[self.at.saturating_sub(1)];
        let hyphen = self.lexeme();
        let is_hyphen = hyphen.token == Token::Operator(Operator::Subtract)
            && matches!(self.ahead(1).token, Token::Number { .. });
        if !is_hyphen || !matches!(&before.token, Token::Unit { unit, .. } if is_foot(unit)) {
            return Ok(());
        }
        let is_adjacent = before.end == hyphen.start && hyphen.end == self.ahead(1).start;
        let is_sum = match self.mark_after_number() {
            Some(Mark::Inch) => is_foot_mark || is_adjacent,
            Some(Mark::Word) => is_adjacent,
            Some(Mark::Foot) | None => false,
        };
        if !is_sum {
            return Ok(());
        }
        Err(Fault::new(hyphen.start, "a hyphen between feet and inches can be read as a minus")
            .with_hint("write `28' 6\"` for a sum, `28 ft - 6 in` for a difference"))
    }

    /// How the unit of the number after the next word is written; the number may have a fraction: `28'-6 1/2"`.
    fn mark_after_number(&self) -> Option<Mark> {
        const LONGEST: usize = 7;
        let is_part = |token: &Token| {
            matches!(
                token,
                Token::Number { .. } | Token::Operator(Operator::Divide | Operator::Subtract)
            )
        };
        let count = (1..LONGEST).find(|count| !is_part(&self.ahead(*count).token))?;
        match self.ahead(count).token {
            Token::Unit { mark, .. } => Some(mark),
            _ => None,
        }
    }
}

/// A mixed fraction as it must be written within a formula.
struct MixedFraction {
    sum: String,
    difference: Option<String>,
}

fn mixed_fraction_fault(at: usize, hint: String) -> Fault {
    Fault::new(at, "a mixed fraction within a formula can be read in two ways").with_hint(hint)
}

fn is_foot(unit: &UnitFactor) -> bool {
    unit::find("ft").is_some_and(|foot| foot == *unit)
}

impl Lexeme {
    fn whole(&self) -> Option<&Ratio> {
        match &self.token {
            Token::Number { value, is_whole: true } => Some(value),
            _ => None,
        }
    }
}

impl Node {
    pub(super) fn is_constant(&self) -> bool {
        matches!(self.kind, Kind::Constant(_))
    }
}
