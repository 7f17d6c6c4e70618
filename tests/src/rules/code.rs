//! Rust as the rules read it: names followed through `::` and braces, string literals, macros,
//! functions. Comments and documentation do not count.

use super::{Finding, Source};
use proc_macro2::{Delimiter, TokenStream, TokenTree};
use quote::ToTokens;
use syn::spanned::Spanned;
use syn::visit::{self, Visit};

/// A parsed Rust file.
pub struct Code {
    file: syn::File,
    tokens: TokenStream,
    test_lines: usize,
}

/// A path such as `std::fs::read`, with groups in braces already followed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named {
    /// Its parts, at least one.
    pub parts: Vec<String>,
    /// Its line, from 1.
    pub line: usize,
    /// How many modules written out in the same file it lies in.
    pub depth: usize,
}

/// A function with a body or a signature.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Function {
    /// Its name.
    pub name: String,
    /// The line of its name, from 1.
    pub line: usize,
    /// From that line to its closing brace.
    pub lines: usize,
    /// `self` not counted.
    pub arguments: usize,
    /// Whether name and arguments were chosen elsewhere: by the trait it implements, or by the C code that calls it.
    pub by_trait: bool,
}

impl Code {
    /// Reads a file with its tests.
    ///
    /// # Errors
    /// A finding where the file is no Rust.
    pub fn whole(source: &Source) -> Result<Code, Finding> {
        let file = syn::parse_file(&source.text)
            .map_err(|fault| Finding::new(source, fault.span().start().line, format!("does not parse: {fault}")))?;
        let tokens = file.to_token_stream();
        Ok(Code { file, tokens, test_lines: 0 })
    }

    /// Reads a file without what is compiled for tests only.
    ///
    /// # Errors
    /// A finding where the file is no Rust.
    pub fn shipped(source: &Source) -> Result<Code, Finding> {
        let mut code = Code::whole(source)?;
        code.test_lines = drop_tests(&mut code.file.items);
        code.tokens = code.file.to_token_stream();
        Ok(code)
    }

    /// The modules the file declares, in its order.
    pub fn modules(&self) -> Vec<String> {
        let module = |item: &syn::Item| match item {
            syn::Item::Mod(module) => Some(module.ident.to_string()),
            _ => None,
        };
        self.file.items.iter().filter_map(module).collect()
    }

    /// How many lines the tests took that [`Code::shipped`] left out.
    pub fn test_lines(&self) -> usize {
        self.test_lines
    }

    /// Every path and lone name.
    pub fn names(&self) -> Vec<Named> {
        let mut found = Vec::new();
        walk_names(&self.tokens, 0, &mut found);
        found
    }

    /// Every string literal, with its line.
    pub fn strings(&self) -> Vec<(String, usize)> {
        let mut found = Vec::new();
        walk_flat(&self.tokens, &mut |trees, at| {
            if let TokenTree::Literal(literal) = &trees[at]
                && let syn::Lit::Str(text) = syn::Lit::new(literal.clone())
            {
                found.push((text.value(), literal.span().start().line));
            }
        });
        found
    }

    /// Every macro called, with its line.
    pub fn macros(&self) -> Vec<(String, usize)> {
        let mut found = Vec::new();
        walk_flat(&self.tokens, &mut |trees, at| {
            if let (TokenTree::Ident(name), Some(TokenTree::Punct(bang)), Some(TokenTree::Group(_))) =
                (&trees[at], trees.get(at + 1), trees.get(at + 2))
                && bang.as_char() == '!'
            {
                found.push((name.to_string(), name.span().start().line));
            }
        });
        found
    }

    /// Every number literal as it is written, with its line.
    pub fn numbers(&self) -> Vec<(String, usize)> {
        let mut found = Vec::new();
        walk_flat(&self.tokens, &mut |trees, at| {
            if let TokenTree::Literal(literal) = &trees[at]
                && let syn::Lit::Int(_) | syn::Lit::Float(_) = syn::Lit::new(literal.clone())
            {
                found.push((literal.to_string(), literal.span().start().line));
            }
        });
        found
    }

    /// Every function, wherever it stands.
    pub fn functions(&self) -> Vec<Function> {
        let mut seen = Definitions::default();
        seen.visit_file(&self.file);
        seen.functions
    }

    /// Names of types, traits and modules, with their lines.
    pub fn definitions(&self) -> Vec<(String, usize)> {
        let mut seen = Definitions::default();
        seen.visit_file(&self.file);
        seen.others
    }
}

/// Takes out every item under `#[cfg(test)]` or `#[test]` and tells how many lines went.
fn drop_tests(items: &mut Vec<syn::Item>) -> usize {
    let mut lines = 0;
    items.retain_mut(|item| {
        if attributes(item).iter().any(is_test) {
            lines += span_lines(&item.span());
            return false;
        }
        if let syn::Item::Mod(module) = item
            && let Some((_, inner)) = &mut module.content
        {
            lines += drop_tests(inner);
        }
        true
    });
    lines
}

fn is_test(attribute: &syn::Attribute) -> bool {
    let path = attribute.path();
    path.is_ident("test")
        || path.is_ident("cfg") && attribute.parse_args::<syn::Ident>().is_ok_and(|condition| condition == "test")
}

fn attributes(item: &syn::Item) -> &[syn::Attribute] {
    match item {
        syn::Item::Mod(it) => &it.attrs,
        syn::Item::Fn(it) => &it.attrs,
        syn::Item::Impl(it) => &it.attrs,
        syn::Item::Struct(it) => &it.attrs,
        syn::Item::Enum(it) => &it.attrs,
        syn::Item::Use(it) => &it.attrs,
        syn::Item::Const(it) => &it.attrs,
        syn::Item::Static(it) => &it.attrs,
        syn::Item::Macro(it) => &it.attrs,
        syn::Item::Trait(it) => &it.attrs,
        syn::Item::Type(it) => &it.attrs,
        _ => &[],
    }
}

fn span_lines(span: &proc_macro2::Span) -> usize {
    span.end().line - span.start().line + 1
}

/// Whether the group at `at` belongs to a documentation attribute, which is how comments reach us.
fn is_documentation(trees: &[TokenTree], at: usize) -> bool {
    let TokenTree::Group(group) = &trees[at] else { return false };
    let after_hash = at > 0 && matches!(&trees[at - 1], TokenTree::Punct(mark) if matches!(mark.as_char(), '#' | '!'));
    after_hash && matches!(group.stream().into_iter().next(), Some(TokenTree::Ident(name)) if name == "doc")
}

fn walk_flat(tokens: &TokenStream, see: &mut dyn FnMut(&[TokenTree], usize)) {
    let trees: Vec<TokenTree> = tokens.clone().into_iter().collect();
    for at in 0..trees.len() {
        see(&trees, at);
        if let TokenTree::Group(group) = &trees[at]
            && !is_documentation(&trees, at)
        {
            walk_flat(&group.stream(), see);
        }
    }
}

fn walk_names(tokens: &TokenStream, depth: usize, found: &mut Vec<Named>) {
    let trees: Vec<TokenTree> = tokens.clone().into_iter().collect();
    let mut at = 0;
    while at < trees.len() {
        match &trees[at] {
            TokenTree::Ident(_) => at = follow(&trees, at, Named { parts: Vec::new(), line: 0, depth }, found),
            TokenTree::Group(group) => {
                if !is_documentation(&trees, at) {
                    let opens = group.delimiter() == Delimiter::Brace && is_module(&trees, at);
                    walk_names(&group.stream(), depth + usize::from(opens), found);
                }
                at += 1;
            }
            _ => at += 1,
        }
    }
}

/// Whether the group at `at` is the body of a `mod name { … }`.
fn is_module(trees: &[TokenTree], at: usize) -> bool {
    at >= 2 && matches!(&trees[at - 2], TokenTree::Ident(word) if word == "mod")
}

/// Follows a path that starts at `at`, after what `start` already holds; gives where to go on.
fn follow(trees: &[TokenTree], mut at: usize, mut start: Named, found: &mut Vec<Named>) -> usize {
    while let Some(TokenTree::Ident(name)) = trees.get(at) {
        if start.line == 0 {
            start.line = name.span().start().line;
        }
        start.parts.push(name.to_string());
        at += 1;
        let colon = |at: usize| matches!(trees.get(at), Some(TokenTree::Punct(mark)) if mark.as_char() == ':');
        if !(colon(at) && colon(at + 1)) {
            break;
        }
        at += 2;
        if let Some(TokenTree::Group(group)) = trees.get(at)
            && group.delimiter() == Delimiter::Brace
        {
            let inner: Vec<TokenTree> = group.stream().into_iter().collect();
            let mut position = 0;
            while position < inner.len() {
                position = match inner[position] {
                    TokenTree::Ident(_) => follow(&inner, position, start.clone(), found),
                    _ => position + 1,
                };
            }
            return at + 1;
        }
    }
    found.push(start);
    at
}

#[derive(Default)]
struct Definitions {
    functions: Vec<Function>,
    others: Vec<(String, usize)>,
    by_trait: bool,
}

impl Definitions {
    fn function(&mut self, signature: &syn::Signature, end: proc_macro2::Span) {
        let line = signature.fn_token.span.start().line;
        let arguments = signature.inputs.iter().filter(|input| matches!(input, syn::FnArg::Typed(_))).count();
        let lines = end.end().line - line + 1;
        let name = signature.ident.to_string();
        let by_trait = self.by_trait || signature.abi.is_some();
        self.functions.push(Function { name, line, lines, arguments, by_trait });
    }

    fn other(&mut self, name: &syn::Ident) {
        self.others.push((name.to_string(), name.span().start().line));
    }
}

impl<'ast> Visit<'ast> for Definitions {
    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        let outer = std::mem::replace(&mut self.by_trait, false);
        self.function(&item.sig, item.block.span());
        visit::visit_item_fn(self, item);
        self.by_trait = outer;
    }
    fn visit_item_impl(&mut self, item: &'ast syn::ItemImpl) {
        let outer = std::mem::replace(&mut self.by_trait, item.trait_.is_some());
        visit::visit_item_impl(self, item);
        self.by_trait = outer;
    }
    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        self.function(&item.sig, item.block.span());
        visit::visit_impl_item_fn(self, item);
    }
    fn visit_trait_item_fn(&mut self, item: &'ast syn::TraitItemFn) {
        self.function(&item.sig, item.span());
        visit::visit_trait_item_fn(self, item);
    }
    fn visit_item_struct(&mut self, item: &'ast syn::ItemStruct) {
        self.other(&item.ident);
    }
    fn visit_item_enum(&mut self, item: &'ast syn::ItemEnum) {
        self.other(&item.ident);
    }
    fn visit_item_type(&mut self, item: &'ast syn::ItemType) {
        self.other(&item.ident);
    }
    fn visit_item_trait(&mut self, item: &'ast syn::ItemTrait) {
        self.other(&item.ident);
        visit::visit_item_trait(self, item);
    }
    fn visit_item_mod(&mut self, item: &'ast syn::ItemMod) {
        self.other(&item.ident);
        visit::visit_item_mod(self, item);
    }
}
