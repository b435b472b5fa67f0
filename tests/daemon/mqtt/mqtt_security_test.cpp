#include "daemon/mqtt/mqtt_sink.hpp"

#include <condition_variable>
#include <mutex>

#include <gtest/gtest.h>

#include "daemon/mqtt/broker_address.hpp"
#include "daemon/mqtt/tls_explain.hpp"
#include "tests/daemon/mqtt/broker.hpp"

namespace oxherd::daemon::mqtt_security_test {

using namespace mqtt_test;

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// What the sink says after its first attempt: how it failed, or nothing when it connected.
class FirstAttempt {
public:
  explicit FirstAttempt(const config::Mqtt& settings)
      : sink_{MqttSink::start(settings, "larkfield", place_.path(), [this](const MqttHealth& health) {
          const std::lock_guard hold{lock_};
          if (!said_) said_ = health.connected ? "" : health.trouble;
          wake_.notify_all();
        })} {}
  std::string trouble() {
    std::unique_lock hold{lock_};
    if (!wake_.wait_for(hold, patience, [&] { return said_.has_value(); })) return "nothing was heard";
    return *said_;
  }

private:
  StateDirectory place_;
  std::mutex lock_;
  std::condition_variable wake_;
  std::optional<std::string> said_;
  std::unique_ptr<MqttSink> sink_; // last: it calls the lambda until it is gone
};

TEST(MqttSink, GivesThePasswordOfItsFileAndSaysWhenItIsRefused) {
  const TemporaryDirectory directory;
  const auto passwords = directory.file("passwords");
  run({"mosquitto_passwd", "-b", "-c", passwords, "oxherd", "open sesame"});
  const int port = free_port();
  Broker guarded{"listener " + std::to_string(port) + " 127.0.0.1\nallow_anonymous false\npassword_file " + passwords +
                     "\n",
                 port};
  guarded.start();
  config::Mqtt settings;
  settings.broker = guarded.url();
  settings.user = "oxherd";
  settings.password_file = directory.write("password", "open sesame\n");
  EXPECT_EQ(FirstAttempt{settings}.trouble(), "");
  settings.password_file = directory.write("wrong", "open barley\n");
  EXPECT_TRUE(contains(FirstAttempt{settings}.trouble(), "mqtt.password_file")) << FirstAttempt{settings}.trouble();
  settings.password_file = directory.write("open", "open sesame\n", 0644);
  EXPECT_TRUE(contains(FirstAttempt{settings}.trouble(), "chmod 600"));
  settings.user.reset();
  settings.password_file.reset();
  EXPECT_TRUE(contains(FirstAttempt{settings}.trouble(), "mqtt.user"));
}

/// An authority of the test's own, another one, and a broker with one listener for each kind of certificate.
class MqttTls : public testing::Test {
protected:
  static void SetUpTestSuite() {
    suite_ = std::make_unique<Suite>();
    suite_->prepare();
  }
  static void TearDownTestSuite() { suite_.reset(); }

  static config::Mqtt settings(int port, const std::string& authority = "ca") {
    config::Mqtt settings;
    settings.broker = "mqtts://127.0.0.1:" + std::to_string(port);
    settings.ca_file = suite_->directory.file(authority + ".pem");
    return settings;
  }

  struct Suite {
    void prepare() {
      authority("ca");
      authority("other");
      certificate("good", "IP:127.0.0.1,DNS:localhost", {"-days", "30"});
      certificate("wrong-name", "DNS:broker.larkfield.example,IP:192.0.2.7", {"-days", "30"});
      certificate("expired", "IP:127.0.0.1", {"-startdate", "20200101000000Z", "-enddate", "20200201000000Z"});
      certificate("future", "IP:127.0.0.1", {"-startdate", "20980101000000Z", "-enddate", "20990101000000Z"});
      std::string text = "per_listener_settings true\n";
      for (const auto& [port, name] : {std::pair{good, "good"},
                                       {wrong_name, "wrong-name"},
                                       {expired, "expired"},
                                       {future, "future"},
                                       {client_certificate, "good"}}) {
        text += "listener " + std::to_string(port) + " 127.0.0.1\nallow_anonymous true\n";
        text += "cafile " + directory.file("ca.pem") + "\ncertfile " + directory.file(std::string{name} + ".pem") +
                "\nkeyfile " + directory.file(std::string{name} + ".key") + "\n";
        if (port == client_certificate) text += "require_certificate true\n";
      }
      broker = std::make_unique<Broker>(text, good);
      broker->start();
    }
    void key(const std::string& name) const {
      run({"openssl", "ecparam", "-name", "prime256v1", "-genkey", "-noout", "-out", directory.file(name + ".key")});
    }
    void authority(const std::string& name) const {
      key(name);
      run({"openssl", "req", "-x509", "-new", "-key", directory.file(name + ".key"), "-subj", "/CN=Larkfield " + name,
           "-days", "30", "-out", directory.file(name + ".pem")});
    }
    void certificate(const std::string& name, const std::string& alternative_names,
                     const std::vector<std::string>& validity) const {
      key(name);
      const auto request = directory.file(name + ".csr");
      run({"openssl", "req", "-new", "-key", directory.file(name + ".key"), "-subj", "/CN=" + name, "-out", request});
      directory.write("index", "");
      directory.write("ca.conf", "[ca]\ndefault_ca=a\n[a]\ndatabase=" + directory.file("index") +
                                     "\nnew_certs_dir=" + directory.file("") +
                                     "\ndefault_md=sha256\nrand_serial=yes\npolicy=p\n[p]\ncommonName=supplied\n"
                                     "[names]\nsubjectAltName=" +
                                     alternative_names + "\n");
      std::vector<std::string> command{"openssl", "ca", "-batch", "-notext", "-config", directory.file("ca.conf")};
      command.insert(command.end(), {"-cert", directory.file("ca.pem"), "-keyfile", directory.file("ca.key")});
      command.insert(command.end(), {"-extensions", "names", "-in", request, "-out", directory.file(name + ".pem")});
      command.insert(command.end(), validity.begin(), validity.end());
      run(command);
    }
    TemporaryDirectory directory;
    int good = free_port(), wrong_name = free_port(), expired = free_port(), future = free_port(),
        client_certificate = free_port();
    std::unique_ptr<Broker> broker;
  };
  static inline std::unique_ptr<Suite> suite_;
};

TEST_F(MqttTls, ConnectsToABrokerWhoseCertificateIsInOrder) {
  EXPECT_EQ(FirstAttempt{settings(suite_->good)}.trouble(), "");
}

TEST_F(MqttTls, RefusesACertificateForAnotherNameAndNamesBoth) {
  const auto why = FirstAttempt{settings(suite_->wrong_name)}.trouble();
  EXPECT_TRUE(contains(why, "for another name")) << why;
  EXPECT_TRUE(contains(why, "\"127.0.0.1\" is asked for")) << why;
  EXPECT_TRUE(contains(why, "broker.larkfield.example, 192.0.2.7")) << why;
}

TEST_F(MqttTls, RefusesAnExpiredCertificateAndSaysSinceWhen) {
  const auto why = FirstAttempt{settings(suite_->expired)}.trouble();
  EXPECT_TRUE(contains(why, "expired on 2020-02-01")) << why;
}

TEST_F(MqttTls, RefusesACertificateOfTheFutureAndSuspectsTheClock) {
  const auto why = FirstAttempt{settings(suite_->future)}.trouble();
  EXPECT_TRUE(contains(why, "valid only from 2098-01-01 on")) << why;
  EXPECT_TRUE(contains(why, "clock")) << why;
}

TEST_F(MqttTls, RefusesAnotherAuthorityAndPointsToTheSetting) {
  const auto why = FirstAttempt{settings(suite_->good, "other")}.trouble();
  EXPECT_TRUE(contains(why, "not signed by an authority trusted here")) << why;
  EXPECT_TRUE(contains(why, "mqtt.ca_file")) << why;
  auto without = settings(suite_->good);
  without.ca_file.reset(); // the system's authorities do not know the test's
  EXPECT_TRUE(contains(FirstAttempt{without}.trouble(), "not signed by an authority trusted here"));
}

TEST_F(MqttTls, NamesAFileItCannotLoad) {
  EXPECT_EQ(FirstAttempt{settings(suite_->good, "missing")}.trouble(),
            "mqtt.ca_file: " + suite_->directory.file("missing.pem") + ": No such file or directory");
  auto broken = settings(suite_->good);
  broken.certificate_file = suite_->directory.write("broken.pem", "no certificate");
  broken.key_file = suite_->directory.file("good.key");
  EXPECT_TRUE(contains(FirstAttempt{broken}.trouble(), "mqtt.certificate_file: "));
}

TEST_F(MqttTls, ShowsItsOwnCertificateWhereTheBrokerAsksForOne) {
  EXPECT_TRUE(contains(FirstAttempt{settings(suite_->client_certificate)}.trouble(), "mqtt.certificate_file"));
  auto with = settings(suite_->client_certificate);
  with.certificate_file = suite_->directory.file("good.pem");
  with.key_file = suite_->directory.file("good.key");
  EXPECT_EQ(FirstAttempt{with}.trouble(), "");
}

TEST_F(MqttTls, ExplainsAPlainListenerAndASilentOne) {
  using namespace std::chrono_literals;
  Broker plain;
  plain.start();
  auto address = *parse_broker(plain.url());
  EXPECT_EQ(why_unreachable(address, {}, 5s), "");
  address.tls = true;
  EXPECT_TRUE(contains(why_unreachable(address, {}, 5s), "is this a TLS port?"));
  plain.freeze();
  EXPECT_TRUE(contains(why_unreachable(address, {}, 200ms), "no TLS answer"));
  plain.thaw();
  EXPECT_TRUE(contains(why_unreachable({"127.0.0.1", free_port(), false}, {}, 5s), "connection refused"));
}

} // namespace oxherd::daemon::mqtt_security_test
