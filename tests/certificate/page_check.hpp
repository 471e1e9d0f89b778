#pragma once
// A strict reader of the certificate's page: well-formed XML, nothing but what is on a list, nothing from outside.

#include <algorithm>
#include <map>
#include <pugixml.hpp>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace plumbline::page_check {

/// What may stand on the page: elements with their attributes.
inline const std::map<std::string, std::set<std::string>>& allowed() {
    static const std::map<std::string, std::set<std::string>> all{
        {"html", {"lang"}},
        {"head", {}},
        {"meta", {"charset", "name", "content", "http-equiv"}},
        {"title", {"id"}},
        {"style", {}},
        {"body", {}},
        {"header", {}},
        {"nav", {"aria-label"}},
        {"main", {}},
        {"footer", {}},
        {"section", {}},
        {"h1", {}},
        {"h2", {"id"}},
        {"h3", {"id"}},
        {"h4", {}},
        {"p", {"class"}},
        {"span", {}},
        {"a", {"href"}},
        {"ul", {}},
        {"li", {}},
        {"dl", {}},
        {"dt", {}},
        {"dd", {}},
        {"table", {"class"}},
        {"caption", {}},
        {"thead", {}},
        {"tbody", {}},
        {"tr", {}},
        {"th", {"scope", "data-column"}},
        {"td", {"data-column"}},
        {"figure", {}},
        {"figcaption", {}},
        {"svg", {"viewBox", "role", "aria-labelledby", "aria-describedby"}},
        {"desc", {"id"}},
        {"path", {"class", "d"}},
        {"text", {"x", "y", "text-anchor"}},
    };
    return all;
}

/// The first '&' that begins no entity of XML, or "". pugixml leaves unknown ones as they are.
inline std::string unknown_entity(const std::string& page) {
    for (std::size_t at = page.find('&'); at != std::string::npos; at = page.find('&', at + 1)) {
        const std::string entity = page.substr(at, std::min<std::size_t>(page.find(';', at), at + 10) + 1 - at);
        if (entity != "&amp;" && entity != "&lt;" && entity != "&gt;" && entity != "&quot;" && entity != "&apos;") return entity;
    }
    return "";
}

class reader {
public:
    std::string fault;  ///< the first found, "" for none

    void read(const pugi::xml_node& node) {
        if (node.type() == pugi::node_element) element(node);
        if (node.type() != pugi::node_element && node.type() != pugi::node_document && node.type() != pugi::node_pcdata) {
            found("neither element nor text below " + std::string(node.parent().name()));
        }
        for (const pugi::xml_node& child : node.children()) read(child);
    }

    void finish() {
        for (const std::string& id : referred_) {
            if (ids_.count(id) == 0) found("no element with id " + id);
        }
    }

private:
    void found(const std::string& what) {
        if (fault.empty()) fault = what;
    }

    void element(const pugi::xml_node& node) {
        const std::string name = node.name();
        const auto known = allowed().find(name);
        if (known == allowed().end()) return found("element " + name);
        std::set<std::string> given;
        for (const pugi::xml_attribute& a : node.attributes()) {
            const std::string key = a.name();
            const std::string value = a.value();
            if (known->second.count(key) == 0) found("attribute " + key + " of " + name);
            if (!given.insert(key).second) found("attribute " + key + " of " + name + " twice");
            if (value.find('<') != std::string::npos) found("'<' in " + key);
            if (key == "id" && !ids_.insert(value).second) found("id " + value + " twice");
            if (key == "aria-labelledby" || key == "aria-describedby") referred_.push_back(value);
            if (key == "href") {
                if (value.substr(0, 1) != "#") {
                    found("reference to " + value);
                } else {
                    referred_.push_back(value.substr(1));
                }
            }
        }
        if (name == "meta" && std::string(node.attribute("http-equiv").value()) != "" &&
            std::string(node.attribute("http-equiv").value()) != "Content-Security-Policy") {
            found("meta that acts: " + std::string(node.attribute("http-equiv").value()));
        }
        if (name == "svg") picture(node);
        if (name == "style") style(node.child_value());
    }

    void picture(const pugi::xml_node& node) {
        if (std::string(node.attribute("role").value()) != "img") found("a picture without role img");
        for (const auto& [part, by] : {std::pair{"title", "aria-labelledby"}, {"desc", "aria-describedby"}}) {
            const pugi::xml_node child = node.child(part);
            if (std::string(child.child_value()).empty()) found(std::string("a picture without ") + part);
            if (std::string(child.attribute("id").value()) != node.attribute(by).value()) {
                found(std::string("a picture whose ") + by + " is not its " + part);
            }
        }
    }

    void style(const std::string& css) {
        for (const char* outside : {"url(", "@import", "@font-face", "image-set(", "expression("}) {
            if (css.find(outside) != std::string::npos) found(std::string("style with ") + outside);
        }
    }

    std::set<std::string> ids_;
    std::vector<std::string> referred_;
};

/// "" where the page is as it must be; else what is wrong first.
inline std::string fault_of(const std::string& page) {
    constexpr std::string_view doctype = "<!DOCTYPE html>\n";
    if (page.substr(0, doctype.size()) != doctype) return "no <!DOCTYPE html>";
    const std::string entity = unknown_entity(page);
    if (!entity.empty()) return "entity " + entity;
    pugi::xml_document document;
    const pugi::xml_parse_result parsed =
        document.load_string(page.c_str(), pugi::parse_full & ~static_cast<unsigned>(pugi::parse_doctype));
    if (!parsed) return parsed.description();
    if (std::distance(document.begin(), document.end()) != 1 || std::string(document.first_child().name()) != "html") {
        return "not one element html";
    }
    reader r;
    r.read(document);
    r.finish();
    return r.fault;
}

}  // namespace plumbline::page_check
